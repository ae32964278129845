// Taps without a new page, live values, and buttons that wait for the needle. Without this file every form works all the same.
"use strict";
(() => {
  const main = () => document.getElementById("main");
  const by = (id) => document.getElementById(id);
  // A tap goes before everything: whoever only looks waits, or is forgotten.
  let tapping = false;
  let finger = false;
  let stale = false;
  let looks = 0;

  const say = (words) => {
    const said = by("said");
    said.textContent = words;
    said.focus();
  };

  // Puts the main part of an answer in the place of ours.
  const put = (text, address, focus) => {
    const page = new DOMParser().parseFromString(text, "text/html");
    const next = page.getElementById("main");
    if (!next) return false;
    main().replaceWith(document.adoptNode(next));
    document.title = page.title;
    const nav = page.querySelector("nav");
    if (nav) document.querySelector("nav").replaceWith(document.adoptNode(nav));
    if (address && address !== location.href) history.pushState(null, "", address);
    if (focus) {
      const said = by("said");
      const told = said && said.textContent ? said : main().querySelector("h1") || said;
      told.tabIndex = -1;
      told.focus();
    }
    hands(live);
    return true;
  };

  const look = async () => {
    if (tapping || finger) {
      stale = true;
      return;
    }
    const mine = ++looks;
    stale = false;
    try {
      const answer = await fetch(location.href, { headers: { accept: "text/html" } });
      const text = await answer.text();
      // A button under a finger stays until the finger leaves it.
      if (tapping || finger) stale = true;
      else if (answer.ok && mine === looks) put(text, null, false);
    } catch { /* The next event tries again. */ }
  };
  const lookIfStale = () => {
    if (stale) look();
  };
  addEventListener("pointerdown", () => { finger = true; }, true);
  for (const kind of ["pointerup", "pointercancel"]) {
    addEventListener(kind, () => {
      finger = false;
      // The tap that this may become comes first.
      setTimeout(lookIfStale);
    }, true);
  }

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.method !== "post" || form.hasAttribute("data-plain")) return;
    event.preventDefault();
    if (tapping) return;
    tapping = true;
    const button = event.submitter;
    const fields = new URLSearchParams(new FormData(form));
    if (button && button.name) fields.set(button.name, button.value);
    const to = (button && button.getAttribute("formaction")) || form.getAttribute("action");
    if (button) button.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(to, { method: "POST", body: fields });
      const text = await answer.text();
      if (!put(text, answer.redirected ? answer.url : null, true)) say("Not saved, tap again. " + text);
    } catch {
      // The number of the form stays, so that a tap that did arrive counts once.
      say("Not saved, tap again. The page does not answer.");
      if (button) button.removeAttribute("aria-busy");
    }
    tapping = false;
    lookIfStale();
  });

  addEventListener("popstate", look);

  let live = null;
  const hands = (now) => {
    if (!now) return;
    const line = by("hands");
    if (line) line.hidden = !now.hands_off;
    for (const button of document.querySelectorAll("[data-hands]")) button.disabled = now.hands_off;
  };

  const show = (now) => {
    live = now;
    hands(now);
    const line = by("live");
    if (!line) return;
    const ours = now.machine === 0 || String(now.machine) === line.dataset.machine;
    line.hidden = !(now.is_plugged && ours);
    const text = (id, words) => {
      const node = by(id);
      if (node && node.textContent !== words) node.textContent = words;
    };
    text("rate", now.rate);
    text("knob", now.knob);
    by("knob").classList.toggle("mind", now.is_over);
    by("over").hidden = !now.is_over;
    if (now.cloth && !line.hidden && by("cloth-ran")) {
      text("cloth-ran", now.cloth.ran);
      text("cloth-wants", now.cloth.wants);
      by("cloth-wants").classList.toggle("mind", now.cloth.is_due);
    }
    const unread = by("unread");
    if (unread) {
      unread.hidden = !now.unread;
      text("unread", "The board was not read: " + now.unread);
    }
  };

  if (by("live") || document.querySelector("[data-hands]")) {
    const events = new EventSource("/live");
    events.addEventListener("live", (event) => show(JSON.parse(event.data)));
    events.addEventListener("changed", () => {
      // What is being filled in is left alone.
      const typing = document.activeElement && document.activeElement.matches("input, select, textarea");
      if (typing || !by("live") && !by("tear")) return;
      look();
    });
    addEventListener("pagehide", () => events.close());
  }
})();
