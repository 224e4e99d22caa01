/* part_writing.c: the rules of part-writing, each once, and what it weighs to break one. */
#include "theory/part_writing.h"
#include <stdlib.h>

void muta_voiced_add(muta_voiced *voiced, muta_pitch pitch)
{
    uint8_t at = voiced->count;

    if (at == MUTA_VOICES)
        return;
    for (; at > 0 && muta_pitch_sound(voiced->at[at - 1]) > muta_pitch_sound(pitch); at--)
        voiced->at[at] = voiced->at[at - 1];
    voiced->at[at] = pitch;
    voiced->count++;
}

void muta_voiced_read(muta_voiced *voiced)
{
    const int root = muta_fifths_class(voiced->slot->value.root);

    for (uint8_t i = 0; i < voiced->count; i++) {
        voiced->semitones[i] = (int16_t)muta_pitch_semitones(voiced->at[i]);
        const int tone = muta_chord_tone(voiced->slot->value.kind, voiced->semitones[i] - root);
        voiced->tones[i] = tone < 0 ? MUTA_NO_TONE : (uint8_t)tone;
    }
}

/* ---- moves ---- */

bool muta_semitones_parallel(int from, int to, int low_from, int low_to)
{
    const int was = muta_semitones_class(from - low_from);
    const int is = muta_semitones_class(to - low_to);

    return from != to && low_from != low_to && was == is && (was == 0 || was == 7);
}

bool muta_semitones_hidden(int from, int to, int low_from, int low_to)
{
    const int is = muta_semitones_class(to - low_to);

    return (is == 0 || is == 7) && abs(to - from) > 2 && low_from != low_to &&
           (to > from) == (low_to > low_from);
}

bool muta_semitones_overlap(int from, int to, int low_from, int low_to)
{
    return low_to > from || to < low_from;
}

bool muta_leading_is_left(int32_t leading, int32_t root, int moves, bool is_inner)
{
    const bool goes_home =
        leading != MUTA_NO_LEADING &&
        muta_semitones_class(muta_fifths_class(root) - muta_fifths_class(leading)) == 1;

    return goes_home && moves != 1 && !(is_inner && moves == -4);
}

bool muta_seventh_is_left(int moves)
{
    return moves != -1 && moves != -2;
}

/* ---- the way from chord to chord ---- */

static int moved(const muta_voiced *from, const muta_voiced *to, uint8_t voice)
{
    return to->semitones[voice] - from->semitones[voice];
}

/* Two voices that move from an interval of this class to another of it. */
static size_t count_parallels(const muta_voiced *from, const muta_voiced *to, int interval)
{
    size_t count = 0;

    for (uint8_t low = 0; from && low < to->count; low++)
        for (uint8_t high = (uint8_t)(low + 1); high < to->count; high++)
            count +=
                muta_semitones_class(from->semitones[high] - from->semitones[low]) == interval &&
                muta_semitones_parallel(from->semitones[high], to->semitones[high],
                                        from->semitones[low], to->semitones[low]);
    return count;
}

static size_t parallel_fifths(const muta_voiced *from, const muta_voiced *to)
{
    return count_parallels(from, to, 7);
}

static size_t parallel_octaves(const muta_voiced *from, const muta_voiced *to)
{
    return count_parallels(from, to, 0);
}

/* Of the outer voices. */
static size_t hidden_perfect(const muta_voiced *from, const muta_voiced *to)
{
    const uint8_t top = (uint8_t)(to->count - 1);

    return from && to->count > 1 &&
           muta_semitones_hidden(from->semitones[top], to->semitones[top], from->semitones[0],
                                 to->semitones[0]);
}

static bool is_leading(const muta_voiced *voiced, uint8_t voice)
{
    return voiced->slot->leading != MUTA_NO_LEADING &&
           muta_semitones_class(voiced->semitones[voice]) ==
               muta_fifths_class(voiced->slot->leading);
}

static size_t count_leading_left(const muta_voiced *from, const muta_voiced *to, bool inner)
{
    size_t count = 0;

    for (uint8_t i = 0; from && i < to->count; i++) {
        const bool is_inner = i > 0 && i + 1 < to->count;
        count += is_inner == inner && is_leading(from, i) &&
                 muta_leading_is_left(from->slot->leading, to->slot->value.root, moved(from, to, i),
                                      inner);
    }
    return count;
}

static size_t leading_unresolved(const muta_voiced *from, const muta_voiced *to)
{
    return count_leading_left(from, to, false);
}

static size_t leading_left_within(const muta_voiced *from, const muta_voiced *to)
{
    return count_leading_left(from, to, true);
}

static bool is_seventh(const muta_voiced *voiced, uint8_t voice)
{
    return voiced->tones[voice] == 3 && muta_chord_has_seventh(voiced->slot->value.kind);
}

static bool chord_has(const muta_harmony_slot *slot, int semitones)
{
    return muta_chord_tone(slot->value.kind, semitones - muta_fifths_class(slot->value.root)) >= 0;
}

/* The bass of V43 takes the seventh up with it, in tenths, to I6. */
static bool rises_with_bass(const muta_voiced *from, const muta_voiced *to, uint8_t voice)
{
    return from->tones[0] == 2 && to->tones[0] == 1 && moved(from, to, 0) > 0 &&
           moved(from, to, voice) > 0 && moved(from, to, voice) <= 2;
}

/* A seventh falls by step, if it is not a tone of the next chord too. */
static size_t seventh_unresolved(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    for (uint8_t i = 0; from && i < to->count; i++)
        count += is_seventh(from, i) && !chord_has(to->slot, from->semitones[i]) &&
                 muta_seventh_is_left(moved(from, to, i)) && !rises_with_bass(from, to, i);
    return count;
}

static size_t overlap(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    for (uint8_t i = 0; from && i + 1 < to->count; i++)
        count += muta_semitones_overlap(from->semitones[i + 1], to->semitones[i + 1],
                                        from->semitones[i], to->semitones[i]);
    return count;
}

static size_t augmented_step(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    for (uint8_t i = 0; from && i < to->count; i++)
        count += muta_pitch_is_augmented(from->at[i], to->at[i]);
    return count;
}

/* Whether a voice that is held into a chord falls in it by step, as a suspension does. */
static bool is_suspended(const muta_voiced *from, const muta_voiced *to, uint8_t voice)
{
    return (to->slot->falls & (1U << voice)) && !muta_seventh_is_left(moved(from, to, voice));
}

/* What is held into a chord stays where it is. */
static size_t count_held(const muta_voiced *from, const muta_voiced *to, bool suspended)
{
    size_t count = 0;

    for (uint8_t i = 0; from && i < to->count; i++)
        count += (to->slot->held & (1U << i)) && moved(from, to, i) != 0 &&
                 is_suspended(from, to, i) == suspended;
    return count;
}

static size_t held_astray(const muta_voiced *from, const muta_voiced *to)
{
    return count_held(from, to, false);
}

static size_t suspension(const muta_voiced *from, const muta_voiced *to)
{
    return count_held(from, to, true);
}

static size_t bass_leap(const muta_voiced *from, const muta_voiced *to)
{
    return from && to->count > 0 && abs(moved(from, to, 0)) > 12;
}

/* ---- how a chord stands ---- */

/* More than an octave between neighbours, the two lowest aside. */
static size_t wide_spacing(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    (void)from;
    for (uint8_t i = 1; i + 1 < to->count; i++)
        count += to->semitones[i + 1] - to->semitones[i] > 12;
    return count;
}

static size_t crossing(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    (void)from;
    for (uint8_t i = 0; i + 1 < to->count; i++)
        count += to->semitones[i] > to->semitones[i + 1];
    return count;
}

static size_t unison(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    (void)from;
    for (uint8_t i = 0; i + 1 < to->count; i++)
        count += to->semitones[i] == to->semitones[i + 1];
    return count;
}

/* How often a tone of this sort is there once too often. */
static size_t count_doubled(const muta_voiced *voiced,
                            bool (*is_such)(const muta_voiced *, uint8_t))
{
    size_t count = 0;

    for (uint8_t i = 0; i < voiced->count; i++)
        count += is_such(voiced, i);
    return count > 1 ? count - 1 : 0;
}

static size_t doubled_leading(const muta_voiced *from, const muta_voiced *to)
{
    (void)from;
    return count_doubled(to, is_leading);
}

static size_t doubled_seventh(const muta_voiced *from, const muta_voiced *to)
{
    (void)from;
    return count_doubled(to, is_seventh);
}

static bool is_major_third(const muta_voiced *voiced, uint8_t voice)
{
    return voiced->tones[voice] == 1 &&
           muta_chord_row_of(voiced->slot->value.kind)->classes[1] == 4;
}

static size_t doubled_third(const muta_voiced *from, const muta_voiced *to)
{
    (void)from;
    return count_doubled(to, is_major_third) > 0;
}

muta_rule muta_rule_lacking(muta_chord_kind kind, uint8_t tone)
{
    switch (tone) {
    case 0:
        return MUTA_RULE_NO_ROOT;
    case 1:
        return MUTA_RULE_NO_THIRD;
    case 2:
        return muta_chord_row_of(kind)->fifths[2] == 1 ? MUTA_RULE_NO_FIFTH : MUTA_RULE_NO_COLOUR;
    default:
        return MUTA_RULE_NO_COLOUR;
    }
}

/* How many tones a chord lacks whose absence this rule is about. */
static size_t count_lacking(const muta_voiced *voiced, muta_rule rule)
{
    const muta_chord_kind kind = voiced->slot->value.kind;
    size_t count = 0;
    unsigned has = 0;

    for (uint8_t i = 0; i < voiced->count; i++)
        has |= voiced->tones[i] == MUTA_NO_TONE ? 0 : 1U << voiced->tones[i];
    for (uint8_t tone = 0; tone < muta_chord_row_of(kind)->count; tone++)
        count += !(has & (1U << tone)) && muta_rule_lacking(kind, tone) == rule;
    return count;
}

static size_t no_root(const muta_voiced *from, const muta_voiced *to)
{
    (void)from;
    return count_lacking(to, MUTA_RULE_NO_ROOT);
}

static size_t no_third(const muta_voiced *from, const muta_voiced *to)
{
    (void)from;
    return count_lacking(to, MUTA_RULE_NO_THIRD);
}

static size_t no_fifth(const muta_voiced *from, const muta_voiced *to)
{
    (void)from;
    return count_lacking(to, MUTA_RULE_NO_FIFTH);
}

static size_t no_colour(const muta_voiced *from, const muta_voiced *to)
{
    (void)from;
    return count_lacking(to, MUTA_RULE_NO_COLOUR);
}

/* Each semitone that the two lowest are closer than a fifth, the bass below middle C. */
static size_t low_cluster(const muta_voiced *from, const muta_voiced *to)
{
    enum {
        MIDDLE_C = 48,
        A_FIFTH = 7
    };

    (void)from;
    if (to->count < 2 || to->semitones[0] >= MIDDLE_C)
        return 0;
    const int gap = to->semitones[1] - to->semitones[0];
    return gap < A_FIFTH ? (size_t)(A_FIFTH - gap) : 0;
}

/* Each semitone beyond what the hand spans. */
static size_t beyond_hand(const muta_voiced *from, const muta_voiced *to)
{
    const muta_ensemble *const ensemble = to->slot->ensemble;

    (void)from;
    if (!ensemble || ensemble->span == 0 || ensemble->hand_to > to->count ||
        ensemble->hand_to <= ensemble->hand_from)
        return 0;
    const int reach =
        to->semitones[ensemble->hand_to - 1] - to->semitones[ensemble->hand_from] - ensemble->span;
    return reach > 0 ? (size_t)reach : 0;
}

static size_t out_of_range(const muta_voiced *from, const muta_voiced *to)
{
    const muta_ensemble *const ensemble = to->slot->ensemble;
    size_t count = 0;

    (void)from;
    for (uint8_t i = 0; ensemble && i < to->count && i < ensemble->count; i++)
        count += to->semitones[i] < muta_pitch_semitones(ensemble->low[i]) ||
                 to->semitones[i] > muta_pitch_semitones(ensemble->high[i]);
    return count;
}

/* ---- the table ---- */

static const char prout[] = "Prout, Harmony (1889), and the textbooks since";
static const char practice[] = "common practice";

const muta_rule_row muta_rule_rows[MUTA_RULES] = {
    [MUTA_RULE_FIFTHS] = {"parallel fifths", 20000, true, true, MUTA_TUNE_VOICE, parallel_fifths,
                          prout},
    [MUTA_RULE_OCTAVES] = {"parallel octaves", 24000, true, true, MUTA_TUNE_VOICE, parallel_octaves,
                           prout},
    [MUTA_RULE_HIDDEN] = {"hidden fifths or octaves", 5000, true, true, MUTA_TUNE_APART,
                          hidden_perfect, prout},
    [MUTA_RULE_LEADING] = {"leading tone not resolved", 12000, true, true, MUTA_TUNE_APART,
                           leading_unresolved, prout},
    [MUTA_RULE_LEADING_WITHIN] = {"leading tone not resolved within", 800, false, true,
                                  MUTA_TUNE_APART, leading_left_within, practice},
    [MUTA_RULE_SEVENTH] = {"seventh not resolved", 12000, true, true, MUTA_TUNE_APART,
                           seventh_unresolved, prout},
    [MUTA_RULE_SPACING] = {"voices too far apart", 9000, true, false, MUTA_TUNE_APART, wide_spacing,
                           prout},
    [MUTA_RULE_CROSSING] = {"voices crossing", 15000, true, false, MUTA_TUNE_APART, crossing,
                            prout},
    [MUTA_RULE_OVERLAP] = {"voices overlapping", 4000, true, true, MUTA_TUNE_APART, overlap, prout},
    [MUTA_RULE_AUGMENTED] = {"augmented step", 8000, true, true, MUTA_TUNE_APART, augmented_step,
                             prout},
    [MUTA_RULE_LEADING_DOUBLED] = {"leading tone doubled", 12000, true, false, MUTA_TUNE_LASTING,
                                   doubled_leading, prout},
    [MUTA_RULE_SEVENTH_DOUBLED] = {"seventh doubled", 9000, true, false, MUTA_TUNE_APART,
                                   doubled_seventh, prout},
    [MUTA_RULE_THIRD_DOUBLED] = {"major third doubled", 900, false, false, MUTA_TUNE_LASTING,
                                 doubled_third, practice},
    [MUTA_RULE_NO_ROOT] = {"root missing", 3000, false, false, MUTA_TUNE_LASTING, no_root,
                           practice},
    [MUTA_RULE_NO_THIRD] = {"third missing", 12000, false, false, MUTA_TUNE_LASTING, no_third,
                            practice},
    [MUTA_RULE_NO_FIFTH] = {"fifth missing", 700, false, false, MUTA_TUNE_LASTING, no_fifth,
                            practice},
    [MUTA_RULE_NO_COLOUR] = {"seventh or altered fifth missing", 6000, false, false,
                             MUTA_TUNE_LASTING, no_colour, practice},
    [MUTA_RULE_UNISON] = {"voices in unison", 800, false, false, MUTA_TUNE_APART, unison, practice},
    [MUTA_RULE_HELD] = {"held tone left", 16000, true, true, MUTA_TUNE_APART, held_astray,
                        practice},
    [MUTA_RULE_SUSPENSION] = {"suspension", 600, false, true, MUTA_TUNE_APART, suspension,
                              practice},
    [MUTA_RULE_HAND] = {"beyond the hand", 1000, true, false, MUTA_TUNE_APART, beyond_hand,
                        practice},
    [MUTA_RULE_LOW] = {"close down low", 400, false, false, MUTA_TUNE_APART, low_cluster, practice},
    [MUTA_RULE_BASS_LEAP] = {"bass leaping beyond an octave", 4000, false, true, MUTA_TUNE_APART,
                             bass_leap, practice},
    [MUTA_RULE_RANGE] = {"out of range", 160000, true, false, MUTA_TUNE_APART, out_of_range,
                         practice},
};

int64_t muta_rule_price(muta_rule rule, int32_t share)
{
    return (int64_t)muta_rule_rows[rule].weight * share / 1000;
}

int64_t muta_parallel_price(int from, int to, int low_from, int low_to, int32_t share)
{
    if (!muta_semitones_parallel(from, to, low_from, low_to))
        return 0;
    return muta_rule_price(
        muta_semitones_class(to - low_to) == 0 ? MUTA_RULE_OCTAVES : MUTA_RULE_FIFTHS, share);
}

/* ---- all of them ---- */

size_t muta_rule_count(const muta_rule_row *row, const muta_voiced *from, const muta_voiced *to,
                       bool is_top_apart)
{
    muta_voiced below;

    if (!is_top_apart || row->tune == MUTA_TUNE_VOICE ||
        (row->tune == MUTA_TUNE_LASTING && to->slot->top_lasts))
        return row->count(from, to);
    below = *to;
    below.count--;
    return row->count(from, &below);
}

size_t muta_rules_faults(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    for (size_t i = 0; i < MUTA_RULES && from->count == to->count; i++)
        if (muta_rule_rows[i].is_fault)
            count += muta_rule_rows[i].count(from, to);
    return count;
}

static int64_t price(const muta_voiced *from, const muta_voiced *to, bool is_top_apart, bool is_way)
{
    int64_t price = 0;

    for (const muta_rule_row *row = muta_rule_rows; row < muta_rule_rows + MUTA_RULES; row++)
        if (row->is_way == is_way)
            price += row->weight * (int64_t)muta_rule_count(row, from, to, is_top_apart);
    return price;
}

int64_t muta_rules_price_standing(const muta_voiced *voiced, bool is_top_apart)
{
    return price(NULL, voiced, is_top_apart, false);
}

int64_t muta_rules_price_way(const muta_voiced *from, const muta_voiced *to, bool is_top_apart)
{
    return price(from, to, is_top_apart, true);
}
