/* instrument.c: instruments and techniques, from the tables. */
#include "theory/instrument.h"
#include <string.h>

static int lower(int c)
{
    return c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c;
}

static bool is_letter(char c)
{
    return (lower(c) >= 'a' && lower(c) <= 'z') || (unsigned char)c >= 0x80;
}

/* Whether `name` holds the word or words, ASCII case ignored; a plural s may follow. */
static bool holds(const char *name, muta_text words)
{
    for (const char *at = name; *at; at++) {
        size_t i = 0;
        if (at > name && is_letter(at[-1]))
            continue;
        while (i < words.length && at[i] && lower(at[i]) == lower(words.at[i]))
            i++;
        if (i == words.length && (!is_letter(at[i]) || (at[i] == 's' && !is_letter(at[i + 1]))))
            return true;
    }
    return false;
}

static bool read_pitch(muta_text cell, muta_pitch *pitch)
{
    char text[8] = "";

    if (cell.length >= sizeof text)
        return false;
    memcpy(text, cell.at, cell.length);
    return muta_pitch_parse(text, pitch) == MUTA_OK;
}

bool muta_instrument_find(const char *part_name, muta_instrument *instrument)
{
    const char *at = muta_table_instruments;
    muta_row row;
    size_t longest = 0;

    while (muta_table_next(&at, &row)) {
        muta_text names = row.cells[5];
        muta_text name;
        while (muta_cell_next(&names, &name)) {
            muta_instrument found = {
                .name = row.cells[0], .family = row.cells[1], .clefs = row.cells[4]};
            if (name.length <= longest || !holds(part_name, name) ||
                !read_pitch(row.cells[2], &found.low) || !read_pitch(row.cells[3], &found.high))
                continue;
            longest = name.length;
            *instrument = found;
        }
    }
    return longest > 0;
}

static bool lists(muta_text cell, muta_text wanted)
{
    muta_text entry;

    while (muta_cell_next(&cell, &entry))
        if (entry.length == wanted.length && memcmp(entry.at, wanted.at, wanted.length) == 0)
            return true;
    return false;
}

bool muta_technique_suits(const muta_technique *technique, muta_text family)
{
    return lists(technique->families, family);
}

bool muta_technique_find(muta_text name, muta_text family, muta_technique *technique)
{
    const char *at = muta_table_techniques;
    muta_row row;

    while (muta_table_next(&at, &row)) {
        const muta_technique found = {row.cells[0], row.cells[1], row.cells[2], row.cells[3],
                                      row.cells[4], row.cells[5], row.cells[6], row.cells[7]};
        if (name.length > 0 ? found.name.length == name.length &&
                                  memcmp(found.name.at, name.at, name.length) == 0
                            : muta_technique_suits(&found, family)) {
            *technique = found;
            return true;
        }
    }
    return false;
}
