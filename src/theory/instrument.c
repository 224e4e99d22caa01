/* instrument.c: instruments and techniques, from the tables. */
#include "theory/instrument.h"
#include "base/text.h"
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

static bool read_row(const muta_row *row, muta_instrument *instrument)
{
    *instrument =
        (muta_instrument){.name = row->cells[0], .family = row->cells[1], .clefs = row->cells[4]};
    return read_pitch(row->cells[2], &instrument->low) &&
           read_pitch(row->cells[3], &instrument->high);
}

static bool find_by_name(const char *part_name, muta_instrument *instrument)
{
    const char *at = muta_table_instruments;
    muta_row row;
    size_t longest = 0;

    while (muta_table_next(&at, &row)) {
        muta_text names = row.cells[5];
        muta_text name;
        muta_instrument found;
        while (muta_cell_next(&names, &name)) {
            if (name.length <= longest || !holds(part_name, name) || !read_row(&row, &found))
                continue;
            longest = name.length;
            *instrument = found;
        }
    }
    return longest > 0;
}

/* `wind.reed.clarinet.bflat` is a `wind.reed.clarinet`. */
static bool find_by_sound(const char *sound, muta_instrument *instrument)
{
    const char *at = muta_table_instruments;
    muta_row row;
    size_t longest = 0;

    while (sound && muta_table_next(&at, &row)) {
        muta_text sounds = row.cells[6];
        muta_text begin;
        muta_instrument found;
        while (muta_cell_next(&sounds, &begin)) {
            if (begin.length <= longest || strncmp(sound, begin.at, begin.length) != 0 ||
                (sound[begin.length] != '\0' && sound[begin.length] != '.') ||
                !read_row(&row, &found))
                continue;
            longest = begin.length;
            *instrument = found;
        }
    }
    return longest > 0;
}

static bool find_by_program(int64_t program, muta_instrument *instrument)
{
    const char *at = muta_table_instruments;
    muta_row row;

    while (program > 0 && muta_table_next(&at, &row)) {
        muta_text programs = row.cells[7];
        muta_text cell;
        int64_t number;
        while (muta_cell_next(&programs, &cell))
            if (muta_text_count(cell.at, &number) && number == program)
                return read_row(&row, instrument);
    }
    return false;
}

static bool is_same_text(muta_text a, muta_text b)
{
    return a.length == b.length && memcmp(a.at, b.at, a.length) == 0;
}

bool muta_instrument_find(const muta_instrument_clues *clues, muta_instrument *instrument)
{
    muta_instrument named;
    const bool is_named = find_by_name(clues->name, &named);

    if (find_by_sound(clues->sound, instrument) ||
        (clues->program > 1 && find_by_program(clues->program, instrument))) {
        if (is_named && is_same_text(named.family, instrument->family))
            *instrument = named;
        return true;
    }
    if (!is_named)
        return find_by_program(clues->program, instrument);
    *instrument = named;
    return true;
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
