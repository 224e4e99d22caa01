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

static muta_status write_descriptor(void *to, const char *at, size_t length)
{
    const int descriptor = *(const int *)to;

    while (length > 0) {
        const ssize_t written = write(descriptor, at, length);
        if (written < 0 && errno != EINTR)
            return MUTA_E_IO;
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
    const muta_sink sink = {write_descriptor, &descriptor};

    if (output->ready.at)
        return sink.write(sink.to, output->ready.at, output->ready.length);
    return muta_tree_write(&output->score->tree, sink, NULL);
}

static muta_status say(muta_diags *diags, muta_status status, const char *path)
{
    muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                  status == MUTA_E_CREATE ? "%s cannot be created: %s" : "%s: writing failed: %s",
                  path, strerror(errno));
    return status;
}

/* Written beside, synced, renamed: whoever looks sees the old file or the new one. */
static muta_status write_beside(const struct output *output, const char *path, muta_diags *diags)
{
    char beside[4096];

    if (snprintf(beside, sizeof beside, "%s.%ld.part", path, (long)getpid()) >=
        (int)sizeof beside) {
        errno = ENAMETOOLONG;
        return say(diags, MUTA_E_CREATE, path);
    }
    const int descriptor = open(beside, O_WRONLY | O_CREAT | O_EXCL, 0666);
    if (descriptor < 0)
        return say(diags, MUTA_E_CREATE, path);
    muta_status status = write_all(output, descriptor);
    if (status == MUTA_OK && fsync(descriptor) != 0)
        status = MUTA_E_IO;
    if (close(descriptor) != 0 && status == MUTA_OK)
        status = MUTA_E_IO;
    if (status == MUTA_OK && rename(beside, path) != 0)
        status = MUTA_E_CREATE;
    if (status != MUTA_OK) {
        (void)say(diags, status, path);
        (void)unlink(beside);
    }
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
    if (!exists || S_ISREG(about.st_mode))
        return write_beside(output, path, diags);
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
                                    &output.ready.length));
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
