/* clef.c: the table of clefs. Source: common practice; MusicXML 4.0, clef-sign. */
#include "theory/clef.h"
#include "mutanza/status.h"
#include "theory/table.h"

enum {
    MIDDLE_LINE = 3
};

/* The first of a sign is the usual one. */
static const muta_clef_row rows[] = {
    {"G", MUTA_CLEF_G, 32, 2},        {"F", MUTA_CLEF_F, 24, 4},
    {"C", MUTA_CLEF_C, 28, 3},        {"percussion", MUTA_CLEF_FIXED, 32, 2},
    {"TAB", MUTA_CLEF_TAB, 32, 2},    {"none", MUTA_CLEF_G, 32, 2},
    {"jianpu", MUTA_CLEF_TAB, 32, 2},
};

const muta_clef_row *muta_clef_named(muta_text name)
{
    for (size_t i = 0; i < MUTA_LENGTH(rows); i++)
        if (muta_text_is(name, rows[i].name))
            return &rows[i];
    return &rows[0];
}

const muta_clef_row *muta_clef_of(muta_clef_sign sign)
{
    size_t i = 0;

    while (i + 1 < MUTA_LENGTH(rows) && rows[i].sign != sign)
        i++;
    return &rows[i];
}

int32_t muta_clef_middle(const muta_clef_row *clef, int32_t line)
{
    return clef->shows + 2 * (MIDDLE_LINE - line);
}

int32_t muta_clef_line(const muta_clef_row *clef, int32_t middle)
{
    return MIDDLE_LINE - (middle - clef->shows) / 2;
}
