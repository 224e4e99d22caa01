/* read.c: a file or bytes of either kind to a score. */
#include "musicxml/build.h"
#include "musicxml/mxl.h"
#include "musicxml/parse.h"
#include "mutanza/limits.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum {
    START = 4
};

/* A source whose first bytes were looked at already. */
struct peeked {
    muta_source rest;
    char start[START];
    size_t count;
    size_t given;
};

static muta_status read_peeked(void *from, char *at, size_t room, size_t *got)
{
    struct peeked *const peeked = from;
    const size_t left = peeked->count - peeked->given;

    if (left == 0)
        return peeked->rest.read(peeked->rest.from, at, room, got);
    *got = left < room ? left : room;
    memcpy(at, peeked->start + peeked->given, *got);
    peeked->given += *got;
    return MUTA_OK;
}

static muta_status peek(muta_source source, struct peeked *peeked)
{
    size_t got;

    *peeked = (struct peeked){.rest = source};
    while (peeked->count < START) {
        MUTA_TRY(
            source.read(source.from, peeked->start + peeked->count, START - peeked->count, &got));
        if (got == 0)
            break;
        peeked->count += got;
    }
    return MUTA_OK;
}

/* A container's list of entries stands at its end, so it is needed whole. */
static muta_status slurp(muta_source source, char **at, size_t *length, muta_diags *diags)
{
    size_t room = 1 << 16;
    size_t used = 0;
    size_t got;
    char *bytes = malloc(room);
    muta_status status = bytes ? MUTA_OK : MUTA_E_MEMORY;

    while (status == MUTA_OK) {
        status = source.read(source.from, bytes + used, room - used, &got);
        if (status != MUTA_OK || got == 0)
            break;
        used += got;
        if (used < room)
            continue;
        char *const grown = room * 2 > MUTA_LIMIT_MXL_BYTES ? NULL : realloc(bytes, room * 2);
        if (!grown) {
            muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "the archive is larger than 256 MiB");
            status = MUTA_E_DATA;
            break;
        }
        bytes = grown;
        room *= 2;
    }
    if (status != MUTA_OK) {
        free(bytes);
        return status;
    }
    *at = bytes;
    *length = used;
    return MUTA_OK;
}

static muta_status open_archive(muta_score *score, muta_source *source, muta_diags *diags)
{
    char *bytes;
    size_t length;

    MUTA_TRY(slurp(*source, &bytes, &length, diags));
    MUTA_TRY(muta_archive_new(bytes, length, &score->archive, diags));
    return muta_archive_open(score->archive, diags, source);
}

static muta_status fill(muta_score *score, muta_source source, muta_diags *diags)
{
    struct peeked peeked;

    MUTA_TRY(peek(source, &peeked));
    muta_source all = {read_peeked, &peeked};
    if (peeked.count == START && memcmp(peeked.start, "PK\3\4", START) == 0)
        MUTA_TRY(open_archive(score, &all, diags));
    MUTA_TRY(muta_names_init(&score->tree));
    MUTA_TRY(muta_parse(all, &score->tree, diags));
    return muta_build(score, diags);
}

static muta_status read_source(muta_source source, muta_score **score, muta_diags *diags)
{
    muta_score *const made = calloc(1, sizeof *made);

    if (!made)
        return MUTA_E_MEMORY;
    const muta_status status = fill(made, source, diags);
    if (status != MUTA_OK) {
        muta_score_free(made);
        return status;
    }
    *score = made;
    return MUTA_OK;
}

static muta_status read_file(void *from, char *at, size_t room, size_t *got)
{
    *got = fread(at, 1, room, from);
    return *got == 0 && ferror(from) ? MUTA_E_IO : MUTA_OK;
}

static muta_status say_io(muta_status status, muta_diags *diags)
{
    if (status == MUTA_E_IO)
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "it cannot be read: %s", strerror(errno));
    return status;
}

/* A score from an open file, which it remembers, so that this is never written over. */
static muta_status read_open(FILE *file, muta_score **score, muta_diags *diags)
{
    struct stat about;
    const muta_status status =
        say_io(read_source((muta_source){read_file, file}, score, diags), diags);

    if (status == MUTA_OK && fstat(fileno(file), &about) == 0 && S_ISREG(about.st_mode)) {
        (*score)->source_device = (uint64_t)about.st_dev;
        (*score)->source_file = (uint64_t)about.st_ino;
        (*score)->has_source = true;
    }
    return status;
}

muta_status muta_score_read(const char *path, muta_score **score, muta_diags *diags)
{
    if (strcmp(path, "-") == 0)
        return read_open(stdin, score, diags);
    FILE *const file = fopen(path, "rb");
    if (!file) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "it cannot be opened: %s", strerror(errno));
        return MUTA_E_NO_INPUT;
    }
    const muta_status status = read_open(file, score, diags);
    (void)fclose(file);
    return status;
}

muta_status muta_score_read_bytes(const char *at, size_t length, muta_score **score,
                                  muta_diags *diags)
{
    muta_bytes bytes = {at, length};

    return read_source(muta_source_of_bytes(&bytes), score, diags);
}

void muta_score_free(muta_score *score)
{
    if (!score)
        return;
    muta_archive_free(score->archive);
    muta_tree_clear(&score->tree);
    muta_model_clear(score);
    muta_arena_clear(&score->own_chords.arena);
    free(score);
}

bool muta_score_is_compressed(const muta_score *score)
{
    return score->archive != NULL;
}

const char *muta_score_version(const muta_score *score)
{
    const char *const version = muta_tree_attribute(&score->tree, score->tree.root, N_VERSION);

    return version ? version : "1.0";
}
