/* A bad disk, laid under a program: loaded before the C library (LD_PRELOAD) it counts the calls that touch the watched
 * file and its journals, and does harm at the n-th.
 *
 * DISK_FILE  the path of the database; files whose path begins with it are watched
 * DISK_HARM  fail-write, fail-read, fail-sync, full, die, lose
 * DISK_CALL  at which call, from 1 on
 * DISK_SEED  which unsynced sectors are lost
 *
 * `full` fails that write and all later ones for want of room; the other failures happen once. `die` ends the program before
 * the call. `lose` ends it too, after some of the sectors that were written since the last sync of their file were put back
 * to what they held before: what a drive may do when the power fails.
 *
 * The place where it was reached is noted by an empty file at DISK_FILE.reached, or nothing was tried. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define SECTOR 512
#define MOST_SECTORS 65536

struct sector {
    dev_t device;
    ino_t inode;
    char path[512];
    off_t at;
    ssize_t held; /* how many bytes the file had there */
    unsigned char before[SECTOR];
};

static struct sector *sectors;
static size_t sector_count;
static long calls;

static void *next(const char *name) {
    void *found = dlsym(RTLD_NEXT, name);
    if (!found) abort();
    return found;
}

static const char *text(const char *name) {
    const char *value = getenv(name);
    return value ? value : "";
}

static int is_harm(const char *harm) { return strcmp(text("DISK_HARM"), harm) == 0; }

static int is_watched(int fd, char *path, size_t size) {
    char link[64];
    const char *file = text("DISK_FILE");
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, size - 1);
    if (length <= 0 || !*file) return 0;
    path[length] = 0;
    return strncmp(path, file, strlen(file)) == 0;
}

static int is_now(void) {
    calls++;
    if (calls != atol(text("DISK_CALL"))) return 0;
    char reached[600];
    snprintf(reached, sizeof reached, "%s.reached", text("DISK_FILE"));
    int fd = ((int (*)(const char *, int, ...))next("open"))(reached, O_CREAT | O_WRONLY, 0600);
    if (fd >= 0) close(fd);
    return 1;
}

static void die(void) { _exit(137); }

static void remember(int fd, const char *path, off_t from, size_t count) {
    ssize_t (*read_at)(int, void *, size_t, off_t) = next("pread64");
    struct stat of;
    if (!is_harm("lose") || fstat(fd, &of) != 0) return;
    if (!sectors && !(sectors = calloc(MOST_SECTORS, sizeof *sectors))) abort();
    for (off_t at = from / SECTOR * SECTOR; at < from + (off_t)count; at += SECTOR) {
        if (sector_count == MOST_SECTORS) abort();
        struct sector *sector = &sectors[sector_count++];
        sector->device = of.st_dev;
        sector->inode = of.st_ino;
        snprintf(sector->path, sizeof sector->path, "%s", path);
        sector->at = at;
        /* Opened anew: the program's own handle may be for writing only. */
        int own = ((int (*)(const char *, int, ...))next("open64"))(path, O_RDONLY);
        sector->held = own < 0 ? 0 : read_at(own, sector->before, SECTOR, at);
        if (own >= 0) close(own);
    }
}

static void synced(int fd) {
    struct stat of;
    size_t kept = 0;
    if (fstat(fd, &of) != 0) return;
    for (size_t at = 0; at < sector_count; at++)
        if (sectors[at].device != of.st_dev || sectors[at].inode != of.st_ino) sectors[kept++] = sectors[at];
    sector_count = kept;
}

static void lose(void) {
    ssize_t (*write_at)(int, const void *, size_t, off_t) = next("pwrite64");
    uint64_t dice = strtoull(text("DISK_SEED"), NULL, 10) * 2862933555777941757ULL + 3037000493ULL;
    /* The newest first, so that a sector that was written twice may end as it was before both. */
    for (size_t at = sector_count; at-- > 0;) {
        dice = dice * 6364136223846793005ULL + 1442695040888963407ULL;
        if ((dice >> 62) == 0 || sectors[at].held <= 0) continue;
        int own = ((int (*)(const char *, int, ...))next("open64"))(sectors[at].path, O_WRONLY);
        if (own < 0) continue;
        if (write_at(own, sectors[at].before, (size_t)sectors[at].held, sectors[at].at) < 0) abort();
        close(own);
    }
    die();
}

/* Whether the call goes through; otherwise errno is set. */
static int writes(int fd, off_t at, size_t count) {
    char path[512];
    if (is_harm("fail-read") || is_harm("fail-sync") || !is_watched(fd, path, sizeof path)) return 1;
    int now = is_now();
    if (is_harm("full") && calls >= atol(text("DISK_CALL"))) {
        errno = ENOSPC;
        return 0;
    }
    if (now && is_harm("fail-write")) {
        errno = EIO;
        return 0;
    }
    if (now && is_harm("die")) die();
    if (now && is_harm("lose")) lose();
    remember(fd, path, at, count);
    return 1;
}

ssize_t pwrite64(int fd, const void *bytes, size_t count, off_t at) {
    if (!writes(fd, at, count)) return -1;
    return ((ssize_t (*)(int, const void *, size_t, off_t))next("pwrite64"))(fd, bytes, count, at);
}

ssize_t pwrite(int fd, const void *bytes, size_t count, off_t at) { return pwrite64(fd, bytes, count, at); }

ssize_t write(int fd, const void *bytes, size_t count) {
    char path[512];
    if (is_watched(fd, path, sizeof path)) {
        off_t at = lseek(fd, 0, SEEK_CUR);
        if (at >= 0 && !writes(fd, at, count)) return -1;
    }
    return ((ssize_t (*)(int, const void *, size_t))next("write"))(fd, bytes, count);
}

ssize_t pread64(int fd, void *bytes, size_t count, off_t at) {
    char path[512];
    if (is_harm("fail-read") && is_watched(fd, path, sizeof path) && is_now()) {
        errno = EIO;
        return -1;
    }
    return ((ssize_t (*)(int, void *, size_t, off_t))next("pread64"))(fd, bytes, count, at);
}

ssize_t pread(int fd, void *bytes, size_t count, off_t at) { return pread64(fd, bytes, count, at); }

static int sync_by(const char *name, int fd) {
    char path[512];
    if (is_watched(fd, path, sizeof path)) {
        if (is_harm("fail-sync") && is_now()) {
            errno = EIO;
            return -1;
        }
        int done = ((int (*)(int))next(name))(fd);
        if (done == 0) synced(fd);
        return done;
    }
    return ((int (*)(int))next(name))(fd);
}

int fsync(int fd) { return sync_by("fsync", fd); }
int fdatasync(int fd) { return sync_by("fdatasync", fd); }
