/* ground.c: the words of shared/grounds.txt. */
#include "theory/ground.h"
#include "theory/table.h"
#include <string.h>

static muta_chord_kind kind_of(char letter)
{
    switch (letter) {
    case 'm':
        return MUTA_CHORD_MINOR;
    case '7':
        return MUTA_CHORD_DOMINANT;
    case 'd':
        return MUTA_CHORD_DIMINISHED;
    default:
        return MUTA_CHORD_MAJOR;
    }
}

/* `5M/7`: root and kind, and the bass behind a slash. */
static void read_chord(const char *at, size_t length, muta_ground_chord *chord)
{
    const char *const slash = memchr(at, '/', length);
    const size_t own = slash ? (size_t)(slash - at) : length;

    chord->value.root = muta_degree_fifths((muta_text){at, own - 1});
    chord->value.kind = kind_of(at[own - 1]);
    chord->low =
        slash ? muta_degree_fifths((muta_text){slash + 1, length - own - 1}) : chord->value.root;
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
    for (uint8_t i = 0; i < row->count; i++)
        if (chord->value.root + row->fifths[i] == chord->low)
            chord->value.bass = i;
}

/* `1m+5M`: the chords of one bar. */
static void read_bar(muta_text word, muta_ground *ground)
{
    const char *at = word.at;
    const char *const end = word.at + word.length;
    uint8_t parts = 1;

    for (size_t i = 0; i < word.length; i++)
        parts = (uint8_t)(parts + (word.at[i] == '+'));
    for (uint8_t part = 0; part < parts && ground->count < MUTA_GROUND_CHORDS; part++) {
        const char *plus = memchr(at, '+', (size_t)(end - at));
        muta_ground_chord *const chord = &ground->chords[ground->count++];
        plus = plus ? plus : end;
        *chord = (muta_ground_chord){.bar = ground->bars, .part = part, .parts = parts};
        read_chord(at, (size_t)(plus - at), chord);
        at = plus + 1;
    }
    ground->bars++;
}

bool muta_ground_find(const char *name, muta_ground *ground)
{
    const char *at = muta_table_grounds;
    muta_row row;
    muta_text word;

    while (muta_table_next(&at, &row)) {
        if (!muta_text_is(row.cells[0], name))
            continue;
        *ground = (muta_ground){.count = 0};
        while (muta_word_next(&row.cells[1], &word))
            read_bar(word, ground);
        return true;
    }
    return false;
}
