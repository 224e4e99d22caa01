/* chord.c: kinds of chords. */
#include "theory/chord.h"
#include "theory/table.h"
#include <string.h>

static const muta_chord_row rows[MUTA_CHORD_KNOWN] = {
    [MUTA_CHORD_MAJOR] = {"major", "", 3, {0, 4, 1, 0, 0}, {0, 4, 7, 0, 0}},
    [MUTA_CHORD_MINOR] = {"minor", "m", 3, {0, -3, 1, 0, 0}, {0, 3, 7, 0, 0}},
    [MUTA_CHORD_DOMINANT] = {"dominant", "7", 4, {0, 4, 1, -2, 0}, {0, 4, 7, 10, 0}},
    [MUTA_CHORD_DIMINISHED] = {"diminished", "dim", 3, {0, -3, -6, 0, 0}, {0, 3, 6, 0, 0}},
    [MUTA_CHORD_DIMINISHED_SEVENTH] =
        {"diminished-seventh", "dim7", 4, {0, -3, -6, -9, 0}, {0, 3, 6, 9, 0}},
    [MUTA_CHORD_HALF_DIMINISHED] =
        {"half-diminished", "m7b5", 4, {0, -3, -6, -2, 0}, {0, 3, 6, 10, 0}},
    [MUTA_CHORD_MINOR_SEVENTH] = {"minor-seventh", "m7", 4, {0, -3, 1, -2, 0}, {0, 3, 7, 10, 0}},
    [MUTA_CHORD_MAJOR_SEVENTH] = {"major-seventh", "maj7", 4, {0, 4, 1, 5, 0}, {0, 4, 7, 11, 0}},
    [MUTA_CHORD_AUGMENTED] = {"augmented", "aug", 3, {0, 4, 8, 0, 0}, {0, 4, 8, 0, 0}},
    [MUTA_CHORD_ITALIAN] = {"Italian", " It6", 3, {0, 4, 10, 0, 0}, {0, 4, 10, 0, 0}},
    [MUTA_CHORD_GERMAN] = {"German", " Ger6", 4, {0, 4, 1, 10, 0}, {0, 4, 7, 10, 0}},
    [MUTA_CHORD_FRENCH] = {"French", " Fr6", 4, {0, 4, 6, 10, 0}, {0, 4, 6, 10, 0}},
    [MUTA_CHORD_MAJOR_SIXTH] = {"major-sixth", "6", 4, {0, 4, 1, 3, 0}, {0, 4, 7, 9, 0}},
    [MUTA_CHORD_MINOR_SIXTH] = {"minor-sixth", "m6", 4, {0, -3, 1, 3, 0}, {0, 3, 7, 9, 0}},
    [MUTA_CHORD_SUSPENDED_SECOND] =
        {"suspended-second", "sus2", 3, {0, 2, 1, 0, 0}, {0, 2, 7, 0, 0}},
    [MUTA_CHORD_SUSPENDED_FOURTH] =
        {"suspended-fourth", "sus4", 3, {0, -1, 1, 0, 0}, {0, 5, 7, 0, 0}},
    [MUTA_CHORD_MAJOR_MINOR] = {"major-minor", "mMaj7", 4, {0, -3, 1, 5, 0}, {0, 3, 7, 11, 0}},
    [MUTA_CHORD_AUGMENTED_SEVENTH] =
        {"augmented-seventh", "aug7", 4, {0, 4, 8, -2, 0}, {0, 4, 8, 10, 0}},
    [MUTA_CHORD_DOMINANT_NINTH] = {"dominant-ninth", "9", 5, {0, 4, 1, -2, 2}, {0, 4, 7, 10, 2}},
    [MUTA_CHORD_MAJOR_NINTH] = {"major-ninth", "maj9", 5, {0, 4, 1, 5, 2}, {0, 4, 7, 11, 2}},
    [MUTA_CHORD_MINOR_NINTH] = {"minor-ninth", "m9", 5, {0, -3, 1, -2, 2}, {0, 3, 7, 10, 2}},
    [MUTA_CHORD_DOMINANT_13TH] = {"dominant-13th", "13", 5, {0, 4, -2, 2, 3}, {0, 4, 10, 2, 9}},
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

/* The letters and signs at the beginning of a symbol, on the line of fifths; how long they are, 0
 * where there are none. */
static size_t read_class(const char *at, size_t length, int32_t *fifths)
{
    static const int32_t letters[] = {['A' - 'A'] = 3, 5, 0, 2, 4, -1, 1};
    size_t end = 1;

    if (length == 0 || at[0] < 'A' || at[0] > 'G')
        return 0;
    *fifths = letters[at[0] - 'A'];
    for (; end < length && (at[end] == '#' || at[end] == 'b'); end++)
        *fifths += at[end] == '#' ? 7 : -7;
    return end;
}

static bool find_symbol(const char *at, size_t length, muta_chord_kind *kind)
{
    static const struct {
        const char *symbol;
        muta_chord_kind kind;
    } others[] = {{"min", MUTA_CHORD_MINOR},
                  {"M7", MUTA_CHORD_MAJOR_SEVENTH},
                  {"min7", MUTA_CHORD_MINOR_SEVENTH},
                  {"o", MUTA_CHORD_DIMINISHED},
                  {"o7", MUTA_CHORD_DIMINISHED_SEVENTH},
                  {"+", MUTA_CHORD_AUGMENTED},
                  {"sus", MUTA_CHORD_SUSPENDED_FOURTH},
                  {"+7", MUTA_CHORD_AUGMENTED_SEVENTH},
                  {"maj", MUTA_CHORD_MAJOR}};

    for (int i = 0; i < MUTA_CHORD_KNOWN; i++)
        if (muta_text_is((muta_text){at, length}, rows[i].symbol)) {
            *kind = (muta_chord_kind)i;
            return true;
        }
    for (size_t i = 0; i < MUTA_LENGTH(others); i++)
        if (muta_text_is((muta_text){at, length}, others[i].symbol)) {
            *kind = others[i].kind;
            return true;
        }
    return false;
}

bool muta_chord_parse(muta_text symbol, muta_chord *chord)
{
    const char *const slash = memchr(symbol.at, '/', symbol.length);
    const size_t head = slash ? (size_t)(slash - symbol.at) : symbol.length;
    const size_t root = read_class(symbol.at, head, &chord->root);
    const size_t tail = symbol.length - head;
    int32_t bass = chord->root;

    chord->bass = 0;
    if (root == 0 || !find_symbol(symbol.at + root, head - root, &chord->kind) ||
        (slash && read_class(slash + 1, tail - 1, &bass) != tail - 1) || (slash && tail == 1))
        return false;
    for (uint8_t i = 1; i < rows[chord->kind].count; i++)
        if (chord->root + rows[chord->kind].fifths[i] == bass)
            chord->bass = i;
    return true;
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
