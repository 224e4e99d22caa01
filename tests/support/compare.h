/* compare.h: whether two documents are the same, and if not, in what. */
#ifndef SUPPORT_COMPARE_H
#define SUPPORT_COMPARE_H

#include "musicxml/build.h"

/* The event stream that libxml2's reader gives, as text: elements with their attributes in order
 * of names, text, comments, instructions, CDATA, the DOCTYPE's identifiers. NULL: not well formed.
 */
char *compare_events(const char *xml, size_t length);
/* The canonical form, as `xmllint --c14n` prints it; NULL where that fails. */
char *compare_canonical(const char *xml, size_t length, size_t *canonical_length);

typedef enum {
    COMPARE_ACCIDENTAL,
    COMPARE_CANCEL,
    COMPARE_STEM,
    COMPARE_HEIGHT, /* a vertical position that a changed pitch takes off */
    COMPARE_TIE,
    COMPARE_SPAN,  /* a slur whose other end is gone */
    COMPARE_TAKEN, /* fingering, string, fret, frame */
    COMPARE_KEY,   /* a key change put in at an edge */
    COMPARE_CLEF,  /* a clef that fits what went far up or down */
    COMPARE_OTHER,
    COMPARE_KINDS,
} compare_kind;

typedef struct compare_counts {
    size_t at[COMPARE_KINDS];
    char first_other[256]; /* where, in words */
} compare_counts;

/* Compares two trees but for `identification`, and counts each kind of difference. */
compare_counts compare_trees(const muta_tree *a, const muta_tree *b);
/* The same for one node of each with all below it. */
compare_counts compare_subtrees(const muta_tree *a, muta_node of_a, const muta_tree *b,
                                muta_node of_b);
size_t compare_total(const compare_counts *counts);
/* One node with all below it as text; ended with free(). */
char *compare_node_text(const muta_tree *tree, muta_node node);

#endif
