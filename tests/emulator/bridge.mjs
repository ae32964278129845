/**
 * Lets another program drive a board over standard input and output: one JSON request per line, one JSON reply per line, in order.
 * `node bridge.mjs ELF [OPTIONS]`, where OPTIONS is a JSON object as `Board` takes it (without `elf`).
 */
import { createInterface } from 'node:readline';
import { Session } from './session.mjs';

const [elf, options = '{}'] = process.argv.slice(2);
if (elf === undefined) {
  process.stderr.write('usage: node bridge.mjs ELF [OPTIONS as JSON]\n');
  process.exit(2);
}
const session = new Session({ ...JSON.parse(options), elf });
for await (const line of createInterface({ input: process.stdin })) {
  if (line.trim() === '') continue;
  process.stdout.write(`${JSON.stringify(replyTo(line))}\n`);
}

function replyTo(line) {
  let request;
  try {
    request = JSON.parse(line);
  } catch {
    return { error: 'this line is not JSON' };
  }
  return session.handle(request);
}
