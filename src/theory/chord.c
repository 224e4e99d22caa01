/* chord.c: kinds of chords. */
#include "theory/chord.h"
#include <string.h>

static const muta_chord_row rows[MUTA_CHORD_KINDS] = {
    [MUTA_CHORD_MAJOR] = {"major", 3, {0, 4, 1, 0}, {0, 4, 7, 0}},
    [MUTA_CHORD_MINOR] = {"minor", 3, {0, -3, 1, 0}, {0, 3, 7, 0}},
    [MUTA_CHORD_DOMINANT] = {"dominant", 4, {0, 4, 1, -2}, {0, 4, 7, 10}},
    [MUTA_CHORD_DIMINISHED] = {"diminished", 3, {0, -3, -6, 0}, {0, 3, 6, 0}},
    [MUTA_CHORD_DIMINISHED_SEVENTH] = {"diminished-seventh", 4, {0, -3, -6, -9}, {0, 3, 6, 9}},
    [MUTA_CHORD_HALF_DIMINISHED] = {"half-diminished", 4, {0, -3, -6, -2}, {0, 3, 6, 10}},
    [MUTA_CHORD_MINOR_SEVENTH] = {"minor-seventh", 4, {0, -3, 1, -2}, {0, 3, 7, 10}},
    [MUTA_CHORD_MAJOR_SEVENTH] = {"major-seventh", 4, {0, 4, 1, 5}, {0, 4, 7, 11}},
    [MUTA_CHORD_AUGMENTED] = {"augmented", 3, {0, 4, 8, 0}, {0, 4, 8, 0}},
    [MUTA_CHORD_ITALIAN] = {"Italian", 3, {0, 4, 10, 0}, {0, 4, 10, 0}},
    [MUTA_CHORD_GERMAN] = {"German", 4, {0, 4, 1, 10}, {0, 4, 7, 10}},
    [MUTA_CHORD_FRENCH] = {"French", 4, {0, 4, 6, 10}, {0, 4, 6, 10}},
};

const muta_chord_row *muta_chord_row_of(muta_chord_kind kind)
{
    return &rows[kind];
}

int muta_fifths_class(int32_t fifths)
{
    return (int)((fifths * 7 % 12 + 12) % 12);
}

int muta_chord_tone(muta_chord_kind kind, int above)
{
    for (int i = 0; i < rows[kind].count; i++)
        if (rows[kind].classes[i] == above)
            return i;
    return -1;
}

const char *muta_fifths_print(int32_t fifths, char *text)
{
    static const char letters[] = "FCGDAEB";
    const int32_t place = fifths + 1;
    const int32_t letter = (place % 7 + 7) % 7;
    int32_t sharps = (place - letter) / 7;
    size_t length = 0;

    text[length++] = letters[letter];
    for (; sharps > 0 && length < MUTA_CLASS_TEXT - 1; sharps--)
        text[length++] = '#';
    for (; sharps < 0 && length < MUTA_CLASS_TEXT - 1; sharps++)
        text[length++] = 'b';
    text[length] = '\0';
    return text;
}

bool muta_chord_is_dominant(muta_chord_kind kind)
{
    return kind == MUTA_CHORD_MAJOR || kind == MUTA_CHORD_DOMINANT || kind == MUTA_CHORD_AUGMENTED;
}

bool muta_chord_is_diminished(muta_chord_kind kind)
{
    return kind == MUTA_CHORD_DIMINISHED || kind == MUTA_CHORD_DIMINISHED_SEVENTH ||
           kind == MUTA_CHORD_HALF_DIMINISHED;
}
