/* numeral.c: chords as degrees of their key, as taught: upper case for major, figures for the bass.
 */
#include "study/study.h"
#include <stdio.h>
#include <string.h>

static const char *const numerals[2][7] = {{"I", "II", "III", "IV", "V", "VI", "VII"},
                                           {"i", "ii", "iii", "iv", "v", "vi", "vii"}};

enum {
    DEGREE = 16 /* bytes of a degree's text */
};

static bool is_minor_kind(muta_chord_kind kind)
{
    return kind == MUTA_CHORD_MINOR || kind == MUTA_CHORD_MINOR_SEVENTH ||
           kind == MUTA_CHORD_MINOR_SIXTH || kind == MUTA_CHORD_MAJOR_MINOR ||
           kind == MUTA_CHORD_MINOR_NINTH || muta_chord_is_diminished(kind);
}

static bool is_sixth(muta_chord_kind kind)
{
    return kind == MUTA_CHORD_ITALIAN || kind == MUTA_CHORD_GERMAN || kind == MUTA_CHORD_FRENCH;
}

/* Which degree a place on the line of fifths above the tonic is, and how far it is altered. */
static void find_degree(int32_t above, bool is_minor, int *degree, int *altered)
{
    static const int degrees[7] = {3, 0, 4, 1, 5, 2, 6}; /* F C G D A E B in C */
    static const int lowered[7] = {0, 0, 1, 0, 0, 1, 0}; /* natural minor; VII is as written */
    const int32_t place = above + 1;
    const int32_t letter = (place % 7 + 7) % 7;

    *degree = degrees[letter];
    *altered = (int)((place - letter) / 7) + (is_minor ? lowered[*degree] : 0);
}

/* `bII`, `vii`: the degree in the case of its third. */
static void print_degree(int32_t above, bool is_minor, muta_chord_kind kind, char *text)
{
    int degree;
    int altered;
    size_t length = 0;

    find_degree(above, is_minor, &degree, &altered);
    /* In minor both sevenths are at home: the subtonic's chord is VII, the leading tone's vii. */
    if (is_minor && degree == 6)
        altered += altered == -1 ? 1 : 0;
    for (; altered < 0 && length < 3; altered++)
        text[length++] = 'b';
    for (; altered > 0 && length < 3; altered--)
        text[length++] = '#';
    (void)snprintf(text + length, DEGREE - length, "%s", numerals[is_minor_kind(kind)][degree]);
}

static const char *figures_of(muta_chord_kind kind, uint8_t bass)
{
    static const char *const triads[] = {"", "6", "64", ""};
    static const char *const sevenths[] = {"7", "65", "43", "42"};

    return muta_chord_row_of(kind)->count == 4 ? sevenths[bass & 3] : triads[bass & 3];
}

static const char *mark_of(muta_chord_kind kind)
{
    if (kind == MUTA_CHORD_HALF_DIMINISHED)
        return "\xc3\xb8"; /* the crossed o */
    if (muta_chord_is_diminished(kind))
        return "o";
    return kind == MUTA_CHORD_AUGMENTED ? "+" : "";
}

/* Whether a chord is at home as what it is, so that it leads nowhere else. */
static bool is_at_home(int32_t above, bool is_minor, muta_chord_kind kind)
{
    if (kind == MUTA_CHORD_MAJOR && is_minor)
        return above == 1 || (above >= -5 && above <= 0);
    if (kind == MUTA_CHORD_MAJOR)
        return above <= 1;
    if (kind == MUTA_CHORD_DOMINANT)
        return above == 1;
    return !muta_chord_is_diminished(kind) || above == 5 || above == 2;
}

const char *muta_numeral_print(const muta_chord *chord, int32_t tonic_fifths, bool is_minor,
                               char *text, size_t room)
{
    static const char *const sixths[][4] = {{"It6", "It6", "It6", "It6"},
                                            {"Ger65", "Ger65", "Ger65", "Ger65"},
                                            {"Fr43", "Fr43", "Fr43", "Fr43"}};
    const muta_chord_kind kind = chord->kind;
    const int32_t above = chord->root - tonic_fifths;
    /* An applied chord leads to the degree a fifth below it, or a semitone above a leading tone. */
    const int32_t goal = muta_chord_is_diminished(kind) ? above - 5 : above - 1;
    char degree[DEGREE];
    char of[DEGREE];

    if (is_sixth(kind)) {
        (void)snprintf(text, room, "%s", sixths[kind - MUTA_CHORD_ITALIAN][chord->bass & 3]);
        return text;
    }
    const bool leads =
        muta_chord_is_diminished(kind) || kind == MUTA_CHORD_DOMINANT || kind == MUTA_CHORD_MAJOR;
    if (leads && !is_at_home(above, is_minor, kind) && goal >= -4 && goal <= 4) {
        const bool to_minor = is_minor ? goal == -1 || goal == 0 : goal >= 2;
        print_degree(goal, is_minor, to_minor ? MUTA_CHORD_MINOR : MUTA_CHORD_MAJOR, of);
        (void)snprintf(text, room, "%s%s%s/%s", muta_chord_is_diminished(kind) ? "vii" : "V",
                       mark_of(kind), figures_of(kind, chord->bass), of);
        return text;
    }
    print_degree(above, is_minor, kind, degree);
    (void)snprintf(text, room, "%s%s%s", degree, mark_of(kind), figures_of(kind, chord->bass));
    return text;
}

void muta_numeral_set(muta_passage_chord *chord)
{
    (void)muta_numeral_print(&chord->value, chord->tonic, chord->is_minor, chord->numeral,
                             MUTA_NUMERAL_TEXT);
}
