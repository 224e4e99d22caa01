/* marks.h: the marks of a note that passes ask about, or put on. */
#ifndef MUSICXML_MARKS_H
#define MUSICXML_MARKS_H

#include "score/plan.h"
#include "theory/ornament.h"

/* What the `notations` of a note say. */
typedef struct muta_marks {
    uint32_t flags; /* of muta_note_flag: staccato, accented */
    uint8_t ornament;
    uint8_t above;
    uint8_t below;
} muta_marks;

/* Adds what one `notations` says. */
void muta_build_marks(const muta_tree *tree, muta_node notations, muta_marks *marks);

/*
 * A mark inside `ornaments`, `technical` or another group of a note's notations, which are put in
 * where they are missing.
 * @param mark  [out] 0 when it has such a mark already
 */
muta_status muta_mark_put(muta_tree *tree, muta_node note, muta_name group, muta_name name,
                          muta_node *mark) MUTA_CHECK;

/* Puts the signs of ornaments over the notes of a passage that was spliced. */
muta_status muta_ornaments_put(muta_score *score, const muta_plan *plan,
                               const muta_passage *passage, size_t *count) MUTA_CHECK;

/*
 * Puts the chords of a passage that was spliced over its staff, where it says them, in place of the
 * symbols that were there, and their numerals under it.
 * @param count  [out] grows by what was put in or taken off
 */
muta_status muta_chords_put(muta_score *score, const muta_plan *plan, const muta_passage *passage,
                            size_t *count) MUTA_CHECK;

#endif
