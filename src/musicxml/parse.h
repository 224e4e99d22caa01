/* parse.h: bytes to tree. Nothing is fetched, no entity is expanded, limits are kept. */
#ifndef MUSICXML_PARSE_H
#define MUSICXML_PARSE_H

#include "base/tree.h"
#include "mutanza/diag.h"

/* Gives the next bytes of an input; *got is 0 at its end. */
typedef struct muta_source {
    muta_status (*read)(void *from, char *at, size_t room, size_t *got);
    void *from;
} muta_source;

/* A run of bytes in memory, read to its end. */
typedef struct muta_bytes {
    const char *at;
    size_t left;
} muta_bytes;
muta_source muta_source_of_bytes(muta_bytes *bytes);

/*
 * Parses a whole XML document in UTF-8, UTF-16 or any encoding that it declares into `tree`, which
 * knows its names already. MUTA_E_DATA when it is not well formed, defines or uses entities, or
 * passes a limit: the reason is in `diags`, with its line.
 */
muta_status muta_parse(muta_source source, muta_tree *tree, muta_diags *diags) MUTA_CHECK;

#endif
