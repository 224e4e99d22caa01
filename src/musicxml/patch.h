/* patch.h: what changed in the score as written, brought into the tree. */
#ifndef MUSICXML_PATCH_H
#define MUSICXML_PATCH_H

#include "musicxml/build.h"
#include "score/notes.h"

/* Rewrites the facets of a note's node that changed. */
muta_status muta_patch_note(muta_score *score, const muta_part *part, muta_note *note,
                            muta_diags *diags) MUTA_CHECK;
/* Rewrites a signature, or puts it in. */
muta_status muta_patch_key(muta_score *score, const muta_part *part,
                           muta_key_change *change) MUTA_CHECK;
/* Gives the signs of a figured bass what they need above a bass that moved. */
muta_status muta_patch_figures(muta_score *score, const muta_part *part,
                               const muta_figures *figures) MUTA_CHECK;
/*
 * Rewrites a leaf that shows the sign of a tone `steps` away from a note that moved; a sign that is
 * none of the usual ones stays.
 */
muta_status muta_patch_neighbour_sign(muta_tree *tree, muta_node leaf, const muta_note *note,
                                      int32_t steps) MUTA_CHECK;
/* Moves the root and bass of a chord symbol. */
muta_status muta_patch_harmony(muta_score *score, const muta_part *part,
                               const muta_harmony *harmony, muta_diags *diags) MUTA_CHECK;

/* The attributes at the start of a bar, made when there are none. */
muta_status muta_patch_attributes(muta_tree *tree, muta_node cell,
                                  muta_node *attributes) MUTA_CHECK;

/* White space one level deeper than `blank`, as far as it tells. */
muta_status muta_patch_deepen(muta_tree *tree, muta_string blank, muta_string *deeper) MUTA_CHECK;
/* A new element below `parent`, behind `after` (0: first), in the line layout of its neighbours. */
muta_status muta_patch_insert(muta_tree *tree, muta_node parent, muta_node after, muta_name name,
                              const char *text, muta_node *made) MUTA_CHECK;
/* The last child whose name is one of `before`, which the schema puts before what comes; or 0. */
muta_node muta_patch_place(const muta_tree *tree, muta_node parent, const muta_name *before,
                           size_t count);
/* The last child of a node, and the one before another; 0 when there is none. */
muta_node muta_patch_last(const muta_tree *tree, muta_node parent);
muta_node muta_patch_before(const muta_tree *tree, muta_node parent, muta_node node);
/* The `part` that holds a part's bars, below the root; 0 when there is none. */
muta_node muta_patch_part(const muta_score *score, const muta_part *part);
/* A name for a new part that none has: `Piano`, or `Piano 2`. @param room  at least 256 */
const char *muta_part_new_name(const muta_score *score, const char *name, char *text, size_t room);
/* Sets the leaf `name`, put behind `after` when it is absent, or removes it when text is NULL. */
muta_status muta_patch_leaf(muta_tree *tree, muta_node parent, muta_node after, muta_name name,
                            const char *text) MUTA_CHECK;
/* The letter of a pitch's step. */
const char *muta_patch_letter(muta_pitch pitch);
/* An alteration as MusicXML writes it: semitones, as `-1` or `0.5`. @param text 24 bytes */
const char *muta_patch_alter(int32_t alter, char *text);
/* Writes step and alteration of a pitch into the leaves of these names. */
muta_status muta_patch_pitch(muta_tree *tree, muta_node parent, muta_name step, muta_name alter,
                             muta_pitch pitch) MUTA_CHECK;

/* Whether two nodes say the same, attributes aside. */
bool muta_patch_says_same(const muta_tree *tree, muta_node a, muta_node b);

#endif
