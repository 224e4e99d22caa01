/* section.h: bars of a score said again as a section of its own, or as a part of its own. */
#ifndef MUSICXML_SECTION_H
#define MUSICXML_SECTION_H

#include "mutanza/diag.h"
#include "score/model.h"

/*
 * Says the bars [from, to) of all parts again behind the last bar, under what is in force at
 * `from`. What was the end becomes a double bar, and the closing bar line moves to the new end.
 * @param is_alone  it will stand alone: all that is in force is said, even what is at the end too
 * @param heading  words above the first new bar; NULL for none
 * @param first    [out] the first new bar
 */
muta_status muta_section_append(muta_score *score, size_t from, size_t to, bool is_alone,
                                const char *heading, size_t *first, muta_diags *diags) MUTA_CHECK;
/* Takes out all bars but those from `first` on; these get the numbers of the bars from `from`. */
muta_status muta_section_keep(muta_score *score, size_t first, size_t from) MUTA_CHECK;
/* Puts a copy of a part under it, with a name of its own. @param made [out] its index */
muta_status muta_section_copy_part(muta_score *score, size_t part, size_t *made) MUTA_CHECK;

#endif
