/* mxl.h: the compressed container: which of its entries is the score, and what else it holds. */
#ifndef MUSICXML_MXL_H
#define MUSICXML_MXL_H

#include "musicxml/parse.h"
#include "score/model.h"

/* Opens `bytes` (taken over, ended with free()); says why when they are no usable container. */
muta_status muta_archive_new(char *bytes, size_t length, muta_archive **archive,
                             muta_diags *diags) MUTA_CHECK;
/* Ends it. Takes NULL. */
void muta_archive_free(muta_archive *archive);
/* The score's bytes, as they inflate; one reading at a time. Borrows: archive. */
muta_status muta_archive_open(muta_archive *archive, muta_diags *diags,
                              muta_source *source) MUTA_CHECK;
/*
 * A container with `tree` as its score, and the other entries of `archive` (NULL: none) as they
 * were, in their order; what is damaged, or leads out of it, is told.
 * @param at  [out] its bytes; the caller's, ended with free()
 */
muta_status muta_archive_write(const muta_archive *archive, const muta_tree *tree, char **at,
                               size_t *length, muta_diags *diags) MUTA_CHECK;

#endif
