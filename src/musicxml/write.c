/* write.c: a score to bytes or to a file, whole or not at all. */
#include "base/buffer.h"
#include "musicxml/mxl.h"
#include "musicxml/names.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

muta_status muta_score_write_bytes(const muta_score *score, char **at, size_t *length)
{
    muta_buffer bytes = {0};
    const muta_status status =
        muta_tree_write(&score->tree, (muta_sink){muta_buffer_write, &bytes}, NULL);

    if (status != MUTA_OK) {
        free(bytes.at);
        return status;
    }
    *at = bytes.at;
    *length = bytes.length;
    return MUTA_OK;
}

/* Where bytes go, and why the last of them did not: another thread may have written them. */
struct target {
    int descriptor;
    int why;
};

static muta_status write_descriptor(void *to, const char *at, size_t length)
{
    struct target *const target = to;

    while (length > 0) {
        const ssize_t written = write(target->descriptor, at, length);
        if (written < 0 && errno != EINTR) {
            target->why = errno;
            return MUTA_E_IO;
        }
        at += written > 0 ? written : 0;
        length -= written > 0 ? (size_t)written : 0;
    }
    return MUTA_OK;
}

/* What is to be written: a container that is ready, or the tree as it goes. */
struct output {
    const muta_score *score;
    muta_buffer ready;
};

static muta_status write_all(const struct output *output, int descriptor)
{
    struct target target = {descriptor, 0};
    const muta_sink sink = {write_descriptor, &target};
    const muta_status status = output->ready.at
                                   ? sink.write(sink.to, output->ready.at, output->ready.length)
                                   : muta_tree_write(&output->score->tree, sink, NULL);

    if (target.why)
        errno = target.why;
    return status;
}

static muta_status say(muta_diags *diags, muta_status status, const char *path)
{
    muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                  status == MUTA_E_CREATE ? "%s cannot be created: %s" : "%s: writing failed: %s",
                  path, strerror(errno));
    return status;
}

enum {
    PATH = 4096
};

static bool fits(char *text, const char *path, const char *end, int nth)
{
    return snprintf(text, PATH, "%s.%ld-%d%s", path, (long)getpid(), nth, end) < PATH;
}

/* The folder that a path names a file of. */
static void folder_of(const char *path, char *folder)
{
    const char *const slash = strrchr(path, '/');

    (void)snprintf(folder, PATH, "%.*s", slash ? (int)(slash - path) + 1 : 1, slash ? path : ".");
}

/*
 * A file without a name, which is gone if the program ends early; where the system has none, one
 * beside with a name that nobody has.
 * @param beside  [out] its name, or ""
 */
static int open_beside(const char *path, char *beside)
{
    enum {
        TRIES = 100
    };
    int descriptor = -1;

    beside[0] = '\0';
#ifdef O_TMPFILE
    char folder[PATH];
    folder_of(path, folder);
    descriptor = open(folder, O_WRONLY | O_TMPFILE, 0666);
#endif
    for (int nth = 0; descriptor < 0 && nth < TRIES; nth++) {
        if (!fits(beside, path, ".part", nth)) {
            errno = ENAMETOOLONG;
            return -1;
        }
        descriptor = open(beside, O_WRONLY | O_CREAT | O_EXCL, 0666);
        if (descriptor < 0 && errno != EEXIST)
            return -1;
    }
    return descriptor;
}

/* Gives it a name, if it has none, for as long as it takes to rename it. */
static bool name_beside(int descriptor, const char *path, char *beside)
{
    char link[64];

    (void)snprintf(link, sizeof link, "/proc/self/fd/%d", descriptor);
    for (int nth = 0; !beside[0] && nth < 100; nth++) {
        if (!fits(beside, path, ".part", nth))
            return false;
        if (linkat(AT_FDCWD, link, AT_FDCWD, beside, AT_SYMLINK_FOLLOW) == 0)
            return true;
        beside[0] = '\0';
        if (errno != EEXIST)
            return false;
    }
    return beside[0];
}

static void sync_folder(const char *path)
{
    char folder[PATH];

    folder_of(path, folder);
    const int descriptor = open(folder, O_RDONLY);
    if (descriptor < 0)
        return;
    (void)fsync(descriptor); /* some file systems cannot */
    (void)close(descriptor);
}

/* Written beside, synced, renamed: whoever looks sees the old file or the new one, with the mode
 * and the owner that the old one had. */
static muta_status write_beside(const struct output *output, const char *path,
                                const struct stat *old, muta_diags *diags)
{
    char beside[PATH];
    const int descriptor = open_beside(path, beside);

    if (descriptor < 0)
        return say(diags, MUTA_E_CREATE, path);
    muta_status status = write_all(output, descriptor);
    if (old && status == MUTA_OK) {
        (void)!fchown(descriptor, old->st_uid, old->st_gid); /* only its owner's to give */
        (void)fchmod(descriptor, old->st_mode & 07777);
    }
    if (status == MUTA_OK && fsync(descriptor) != 0)
        status = MUTA_E_IO;
    if (status == MUTA_OK && (!name_beside(descriptor, path, beside) || rename(beside, path) != 0))
        status = MUTA_E_CREATE;
    if (status != MUTA_OK) {
        (void)say(diags, status, path);
        if (beside[0])
            (void)unlink(beside);
    }
    if (close(descriptor) != 0 && status == MUTA_OK)
        status = say(diags, MUTA_E_IO, path);
    sync_folder(path);
    return status;
}

/* A device or a pipe cannot be renamed onto. */
static muta_status write_through(const struct output *output, int descriptor, const char *path,
                                 muta_diags *diags)
{
    if (descriptor < 0)
        return say(diags, MUTA_E_CREATE, path);
    const muta_status status = write_all(output, descriptor);
    return status == MUTA_OK ? status : say(diags, status, path);
}

static muta_status put(const struct output *output, const char *path, muta_diags *diags)
{
    struct stat about;
    const muta_score *const score = output->score;

    if (strcmp(path, "-") == 0)
        return write_through(output, STDOUT_FILENO, "standard output", diags);
    const bool exists = stat(path, &about) == 0;
    if (exists && score->has_source && (uint64_t)about.st_dev == score->source_device &&
        (uint64_t)about.st_ino == score->source_file) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "the output is the input; give another name behind -o");
        return MUTA_E_CREATE;
    }
    if (exists && S_ISREG(about.st_mode) && (about.st_mode & 0222) == 0) {
        errno = EACCES;
        return say(diags, MUTA_E_CREATE, path);
    }
    if (!exists)
        return write_beside(output, path, NULL, diags);
    if (S_ISREG(about.st_mode)) {
        /* A link stays one: what it leads to is replaced. */
        char *const real = realpath(path, NULL);
        const muta_status status = write_beside(output, real ? real : path, &about, diags);
        free(real);
        return status;
    }
    const int descriptor = open(path, O_WRONLY);
    const muta_status status = write_through(output, descriptor, path, diags);
    if (descriptor >= 0)
        (void)close(descriptor);
    return status;
}

static muta_status check(const muta_score *score, const muta_schema *schema, muta_diags *diags)
{
    char *at;
    size_t length;

    MUTA_TRY(muta_score_write_bytes(score, &at, &length));
    const muta_status status = muta_schema_check(schema, at, length, diags);
    free(at);
    return status;
}

muta_status muta_score_write(const muta_score *score, const char *path, bool compress,
                             const muta_schema *schema, muta_diags *diags)
{
    struct output output = {.score = score};

    if (schema)
        MUTA_TRY(check(score, schema, diags));
    if (compress)
        MUTA_TRY(muta_archive_write(score->archive, &score->tree, &output.ready.at,
                                    &output.ready.length, diags));
    const muta_status status = put(&output, path, diags);
    free(output.ready.at);
    return status;
}

muta_status muta_score_write_text(const muta_score *score, const char *path, char *text,
                                  muta_diags *diags)
{
    const struct output output = {.score = score, .ready = {.at = text, .length = strlen(text)}};

    return put(&output, path, diags);
}
