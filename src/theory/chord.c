/* chord.c: kinds of chords. */
#include "theory/chord.h"
#include <string.h>

static const muta_chord_row rows[MUTA_CHORD_KNOWN] = {
    [MUTA_CHORD_MAJOR] = {"major", 3, {0, 4, 1, 0, 0}, {0, 4, 7, 0, 0}},
    [MUTA_CHORD_MINOR] = {"minor", 3, {0, -3, 1, 0, 0}, {0, 3, 7, 0, 0}},
    [MUTA_CHORD_DOMINANT] = {"dominant", 4, {0, 4, 1, -2, 0}, {0, 4, 7, 10, 0}},
    [MUTA_CHORD_DIMINISHED] = {"diminished", 3, {0, -3, -6, 0, 0}, {0, 3, 6, 0, 0}},
    [MUTA_CHORD_DIMINISHED_SEVENTH] = {"diminished-seventh",
                                       4,
                                       {0, -3, -6, -9, 0},
                                       {0, 3, 6, 9, 0}},
    [MUTA_CHORD_HALF_DIMINISHED] = {"half-diminished", 4, {0, -3, -6, -2, 0}, {0, 3, 6, 10, 0}},
    [MUTA_CHORD_MINOR_SEVENTH] = {"minor-seventh", 4, {0, -3, 1, -2, 0}, {0, 3, 7, 10, 0}},
    [MUTA_CHORD_MAJOR_SEVENTH] = {"major-seventh", 4, {0, 4, 1, 5, 0}, {0, 4, 7, 11, 0}},
    [MUTA_CHORD_AUGMENTED] = {"augmented", 3, {0, 4, 8, 0, 0}, {0, 4, 8, 0, 0}},
    [MUTA_CHORD_ITALIAN] = {"Italian", 3, {0, 4, 10, 0, 0}, {0, 4, 10, 0, 0}},
    [MUTA_CHORD_GERMAN] = {"German", 4, {0, 4, 1, 10, 0}, {0, 4, 7, 10, 0}},
    [MUTA_CHORD_FRENCH] = {"French", 4, {0, 4, 6, 10, 0}, {0, 4, 6, 10, 0}},
    [MUTA_CHORD_MAJOR_SIXTH] = {"major-sixth", 4, {0, 4, 1, 3, 0}, {0, 4, 7, 9, 0}},
    [MUTA_CHORD_MINOR_SIXTH] = {"minor-sixth", 4, {0, -3, 1, 3, 0}, {0, 3, 7, 9, 0}},
    [MUTA_CHORD_SUSPENDED_SECOND] = {"suspended-second", 3, {0, 2, 1, 0, 0}, {0, 2, 7, 0, 0}},
    [MUTA_CHORD_SUSPENDED_FOURTH] = {"suspended-fourth", 3, {0, -1, 1, 0, 0}, {0, 5, 7, 0, 0}},
    [MUTA_CHORD_MAJOR_MINOR] = {"major-minor", 4, {0, -3, 1, 5, 0}, {0, 3, 7, 11, 0}},
    [MUTA_CHORD_AUGMENTED_SEVENTH] = {"augmented-seventh", 4, {0, 4, 8, -2, 0}, {0, 4, 8, 10, 0}},
    [MUTA_CHORD_DOMINANT_NINTH] = {"dominant-ninth", 5, {0, 4, 1, -2, 2}, {0, 4, 7, 10, 2}},
    [MUTA_CHORD_MAJOR_NINTH] = {"major-ninth", 5, {0, 4, 1, 5, 2}, {0, 4, 7, 11, 2}},
    [MUTA_CHORD_MINOR_NINTH] = {"minor-ninth", 5, {0, -3, 1, -2, 2}, {0, 3, 7, 10, 2}},
    [MUTA_CHORD_DOMINANT_13TH] = {"dominant-13th", 5, {0, 4, -2, 2, 3}, {0, 4, 10, 2, 9}},
};

const muta_chord_row *muta_chord_row_of(muta_chord_kind kind)
{
    return &rows[kind];
}

bool muta_chord_is_equal(muta_chord a, muta_chord b)
{
    return a.root == b.root && a.kind == b.kind && a.bass == b.bass;
}

const char *muta_chord_kind_name(muta_chord_kind kind)
{
    return muta_chord_row_of(kind)->name;
}

bool muta_chord_find(const char *name, muta_chord_kind *kind)
{
    for (int i = 0; i < MUTA_CHORD_KNOWN; i++)
        if (strcmp(rows[i].name, name) == 0) {
            *kind = (muta_chord_kind)i;
            return true;
        }
    return false;
}

bool muta_chord_kind_of(const int32_t *tones, size_t count, muta_chord_kind *kind)
{
    for (int i = 0; i < MUTA_CHORD_KINDS; i++) {
        bool same = rows[i].count == count;
        for (size_t j = 0; same && j < count; j++)
            same = tones[j] - tones[0] == rows[i].fifths[j];
        if (same) {
            *kind = (muta_chord_kind)i;
            return true;
        }
    }
    return false;
}

int muta_semitones_class(int semitones)
{
    return (semitones % 12 + 12) % 12;
}

int muta_fifths_class(int32_t fifths)
{
    return muta_semitones_class((int)fifths * 7);
}

/* The natural tones C to B on the line of fifths. */
static const int8_t naturals[] = {0, 2, 4, -1, 1, 3, 5};

muta_pitch muta_fifths_pitch(int32_t fifths, int octave)
{
    const int32_t step = ((fifths * 4) % 7 + 7) % 7;

    return (muta_pitch){octave * 7 + step, (fifths - naturals[step]) / 7 * MUTA_SEMITONE};
}

int32_t muta_degree_fifths(muta_text degree)
{
    int32_t fifths = 0;

    for (size_t i = 0; i < degree.length; i++) {
        if (degree.at[i] == 'b')
            fifths -= 7;
        if (degree.at[i] == '#')
            fifths += 7;
        if (degree.at[i] >= '1' && degree.at[i] <= '7')
            fifths += naturals[degree.at[i] - '1'];
    }
    return fifths;
}

int32_t muta_pitch_fifths(muta_pitch pitch)
{
    return naturals[muta_pitch_step(pitch)] + 7 * muta_pitch_sharps(pitch);
}

int muta_chord_tone(muta_chord_kind kind, int above)
{
    const int class = muta_semitones_class(above);

    for (int i = 0; i < rows[kind].count; i++)
        if (rows[kind].classes[i] == class)
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

bool muta_chord_leads(muta_chord_kind kind, int up)
{
    return (up == 5 && muta_chord_is_dominant(kind)) || (up == 1 && muta_chord_is_diminished(kind));
}

bool muta_chord_is_dominant(muta_chord_kind kind)
{
    return kind == MUTA_CHORD_MAJOR || kind == MUTA_CHORD_DOMINANT ||
           kind == MUTA_CHORD_AUGMENTED || kind == MUTA_CHORD_AUGMENTED_SEVENTH ||
           kind == MUTA_CHORD_DOMINANT_NINTH || kind == MUTA_CHORD_DOMINANT_13TH;
}

bool muta_chord_has_seventh(muta_chord_kind kind)
{
    const muta_chord_row *const row = muta_chord_row_of(kind);

    return row->count >= MUTA_CHORD_TONES && row->classes[3] >= 9 &&
           kind != MUTA_CHORD_MAJOR_SIXTH && kind != MUTA_CHORD_MINOR_SIXTH &&
           kind != MUTA_CHORD_GERMAN && kind != MUTA_CHORD_FRENCH;
}

bool muta_chord_is_diminished(muta_chord_kind kind)
{
    return kind == MUTA_CHORD_DIMINISHED || kind == MUTA_CHORD_DIMINISHED_SEVENTH ||
           kind == MUTA_CHORD_HALF_DIMINISHED;
}

int32_t muta_chord_leading(muta_chord_kind kind, int32_t root, int32_t tonic)
{
    if (muta_chord_is_diminished(kind)) /* the second degree in minor leads to nothing */
        return root == tonic + 2 && kind != MUTA_CHORD_DIMINISHED_SEVENTH ? MUTA_NO_LEADING : root;
    if (kind == MUTA_CHORD_MAJOR)
        return root == tonic + 1 ? root + 4 : MUTA_NO_LEADING;
    return muta_chord_is_dominant(kind) ? root + 4 : MUTA_NO_LEADING;
}
