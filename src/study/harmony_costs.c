/* harmony_costs.c: what costs how much, and what chords are to a key. */
#include "study/harmony.h"

/*
 * One unexplained quarter costs as much as several changes of chord. Found by coordinate descent on
 * half of the labelled scores; common practice sets their order.
 */
const muta_harmony_costs muta_harmony_costs_default = {
    .passing = 980,
    .passing_on_beat = 2100,
    .neighbour = 2400,
    .anticipating = 1000,
    .suspended = 2100,
    .left_by_step = 3200,
    .reached_by_step = 5500,
    .leaping = 5500,
    .attack = 100,
    .no_root = 1600,
    .no_third = 500,
    .no_fifth = 50,
    .no_seventh = 710,
    .late_seventh = 600,
    .enough = 120,
    .misspelled = 5000,
    .kinds = {[MUTA_CHORD_MAJOR] = -30,
              [MUTA_CHORD_MINOR] = 140,
              [MUTA_CHORD_DOMINANT] = 340,
              [MUTA_CHORD_DIMINISHED] = 410,
              [MUTA_CHORD_DIMINISHED_SEVENTH] = 300,
              [MUTA_CHORD_HALF_DIMINISHED] = 1600,
              [MUTA_CHORD_MINOR_SEVENTH] = 1500,
              [MUTA_CHORD_MAJOR_SEVENTH] = 8600,
              [MUTA_CHORD_AUGMENTED] = 440,
              [MUTA_CHORD_ITALIAN] = 500,
              [MUTA_CHORD_GERMAN] = 500,
              [MUTA_CHORD_FRENCH] = 500},
    .change = 500,
    .places = {30, 100, 130, 580, 980, 9000},
    .crossed = 1600,
    .new_bass = -350,
    .motion = {60, 400, 300, 270, 200, -30, 530},
    .resolves = -680,
    .cadences = -630,
    .not_first_low = 500,
    .not_lowest = 700,
    .seldom_lowest = 810,
    .inversions = {0, 70, 400, 470},
    .six_four = 300,
    .tonic = 0,
    .dominant = 50,
    .diatonic = 480,
    .applied = 1200,
    .borrowed = 1000,
    .mild = 1600,
    .foreign = 2400,
    .outside = 170,
    .new_key = 1300,
    .new_key_fifth = 190,
    .signature_first = 3300,
    .signature = 50,
    .open_end = 500,
    .new_bass_place = 300,
};

/* What a chord is to a key. */
typedef enum {
    TONIC,
    DOMINANT,
    DIATONIC,
    APPLIED,
    BORROWED,
    MILD,
    FOREIGN,
} degree;

/* One row: semitones above the tonic, the kind, what it is in major and in minor. */
static const struct {
    int8_t above;
    uint8_t kind;
    uint8_t in_major;
    uint8_t in_minor;
} rows[] = {
    {0, MUTA_CHORD_MAJOR, TONIC, BORROWED},
    {0, MUTA_CHORD_MINOR, BORROWED, TONIC},
    {0, MUTA_CHORD_DOMINANT, APPLIED, APPLIED},
    {0, MUTA_CHORD_MAJOR_SEVENTH, MILD, FOREIGN},
    {0, MUTA_CHORD_MINOR_SEVENTH, FOREIGN, MILD},
    {1, MUTA_CHORD_MAJOR, BORROWED, BORROWED}, /* the Neapolitan */
    {1, MUTA_CHORD_DIMINISHED, APPLIED, FOREIGN},
    {1, MUTA_CHORD_DIMINISHED_SEVENTH, APPLIED, FOREIGN},
    {2, MUTA_CHORD_MINOR, DIATONIC, BORROWED},
    {2, MUTA_CHORD_MINOR_SEVENTH, DIATONIC, BORROWED},
    {2, MUTA_CHORD_DIMINISHED, BORROWED, DIATONIC},
    {2, MUTA_CHORD_HALF_DIMINISHED, BORROWED, DIATONIC},
    {2, MUTA_CHORD_MAJOR, APPLIED, APPLIED},
    {2, MUTA_CHORD_DOMINANT, APPLIED, APPLIED},
    {3, MUTA_CHORD_MAJOR, BORROWED, DIATONIC},
    {3, MUTA_CHORD_DOMINANT, FOREIGN, APPLIED},
    {3, MUTA_CHORD_AUGMENTED, FOREIGN, MILD},
    {3, MUTA_CHORD_DIMINISHED_SEVENTH, APPLIED, FOREIGN},
    {4, MUTA_CHORD_MINOR, MILD, FOREIGN},
    {4, MUTA_CHORD_MINOR_SEVENTH, MILD, FOREIGN},
    {4, MUTA_CHORD_MAJOR, APPLIED, FOREIGN},
    {4, MUTA_CHORD_DOMINANT, APPLIED, FOREIGN},
    {4, MUTA_CHORD_DIMINISHED, APPLIED, APPLIED},
    {4, MUTA_CHORD_DIMINISHED_SEVENTH, APPLIED, APPLIED},
    {4, MUTA_CHORD_HALF_DIMINISHED, APPLIED, APPLIED},
    {5, MUTA_CHORD_MAJOR, DIATONIC, BORROWED},
    {5, MUTA_CHORD_MINOR, BORROWED, DIATONIC},
    {5, MUTA_CHORD_MAJOR_SEVENTH, MILD, FOREIGN},
    {5, MUTA_CHORD_MINOR_SEVENTH, BORROWED, DIATONIC},
    {5, MUTA_CHORD_DOMINANT, FOREIGN, BORROWED},
    {6, MUTA_CHORD_DIMINISHED, APPLIED, APPLIED},
    {6, MUTA_CHORD_DIMINISHED_SEVENTH, APPLIED, APPLIED},
    {6, MUTA_CHORD_HALF_DIMINISHED, APPLIED, APPLIED},
    {7, MUTA_CHORD_MAJOR, DOMINANT, DOMINANT},
    {7, MUTA_CHORD_DOMINANT, DOMINANT, DOMINANT},
    {7, MUTA_CHORD_AUGMENTED, BORROWED, BORROWED},
    {7, MUTA_CHORD_MINOR, BORROWED, BORROWED},
    {8, MUTA_CHORD_MAJOR, BORROWED, DIATONIC},
    {8, MUTA_CHORD_MAJOR_SEVENTH, FOREIGN, MILD},
    {8, MUTA_CHORD_ITALIAN, APPLIED, APPLIED},
    {8, MUTA_CHORD_GERMAN, APPLIED, APPLIED},
    {8, MUTA_CHORD_FRENCH, APPLIED, APPLIED},
    {8, MUTA_CHORD_DIMINISHED, APPLIED, FOREIGN},
    {8, MUTA_CHORD_DIMINISHED_SEVENTH, APPLIED, FOREIGN},
    {9, MUTA_CHORD_MINOR, DIATONIC, FOREIGN},
    {9, MUTA_CHORD_MINOR_SEVENTH, MILD, FOREIGN},
    {9, MUTA_CHORD_MAJOR, APPLIED, FOREIGN},
    {9, MUTA_CHORD_DOMINANT, APPLIED, FOREIGN},
    {9, MUTA_CHORD_DIMINISHED, FOREIGN, BORROWED},
    {9, MUTA_CHORD_DIMINISHED_SEVENTH, FOREIGN, APPLIED},
    {10, MUTA_CHORD_MAJOR, BORROWED, BORROWED},
    {10, MUTA_CHORD_DOMINANT, BORROWED, APPLIED},
    {11, MUTA_CHORD_DIMINISHED, DIATONIC, DIATONIC},
    {11, MUTA_CHORD_DIMINISHED_SEVENTH, DIATONIC, DIATONIC},
    {11, MUTA_CHORD_HALF_DIMINISHED, DIATONIC, FOREIGN},
    {11, MUTA_CHORD_MAJOR, APPLIED, FOREIGN},
    {11, MUTA_CHORD_DOMINANT, APPLIED, FOREIGN},
};

int32_t muta_harmony_degree(const muta_harmony_costs *costs, int key, int root,
                            muta_chord_kind kind)
{
    const int above = (root - key % MUTA_CLASSES + MUTA_CLASSES) % MUTA_CLASSES;
    const int32_t prices[] = {costs->tonic,    costs->dominant, costs->diatonic, costs->applied,
                              costs->borrowed, costs->mild,     costs->foreign};

    for (size_t i = 0; i < MUTA_LENGTH(rows); i++)
        if (rows[i].above == above && rows[i].kind == kind)
            return prices[key < MUTA_CLASSES ? rows[i].in_major : rows[i].in_minor];
    return costs->foreign;
}

int32_t muta_harmony_key_fifths(int key)
{
    const int tonic = key % MUTA_CLASSES + (key < MUTA_CLASSES ? 0 : 3);
    const int fifths = tonic % MUTA_CLASSES * 7 % MUTA_CLASSES;

    return fifths > 6 ? fifths - MUTA_CLASSES : fifths;
}

bool muta_harmony_has(int key, int pitch_class)
{
    static const bool scales[2][MUTA_CLASSES] = {{1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1},
                                                 {1, 0, 1, 1, 0, 1, 0, 1, 1, 1, 1, 1}};

    return scales[key >= MUTA_CLASSES]
                 [(pitch_class - key % MUTA_CLASSES + MUTA_CLASSES) % MUTA_CLASSES];
}
