/* voicing.c: rules and costs of part-writing, and the search through the voicings of a row of
 * chords. */
#include "theory/voicing.h"
#include "base/search.h"
#include "base/vec.h"
#include <stdlib.h>
#include <string.h>

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

/* ---- rules ---- */

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

/* The outer voices go the same way to a fifth or an octave, and the upper one leaps. */
static size_t hidden_perfect(const muta_voiced *from, const muta_voiced *to)
{
    const uint8_t top = (uint8_t)(to->count - 1);

    if (!from || to->count < 2)
        return 0;
    const int low = moved(from, to, 0);
    const int high = moved(from, to, top);
    const int interval = muta_semitones_class(to->semitones[top] - to->semitones[0]);
    return (interval == 7 || interval == 0) && abs(high) > 2 && low != 0 && (low > 0) == (high > 0);
}

static bool goes_to_tonic(const muta_voiced *from, const muta_voiced *to)
{
    return from->slot->leading != MUTA_NO_LEADING &&
           muta_semitones_class(muta_fifths_class(to->slot->value.root) -
                                muta_fifths_class(from->slot->leading)) == 1;
}

static bool is_leading(const muta_voiced *voiced, uint8_t voice)
{
    return voiced->slot->leading != MUTA_NO_LEADING &&
           muta_semitones_class(voiced->semitones[voice]) ==
               muta_fifths_class(voiced->slot->leading);
}

/* In an outer voice the leading tone rises to the tonic; an inner one may fall to its fifth. */
static size_t leading_unresolved(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    if (!from || !goes_to_tonic(from, to))
        return 0;
    for (uint8_t i = 0; i < to->count; i += (uint8_t)(to->count - 1)) {
        count += is_leading(from, i) && moved(from, to, i) != 1;
        if (to->count < 2)
            break;
    }
    return count;
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

    for (uint8_t i = 0; from && i < to->count; i++) {
        if (!is_seventh(from, i) || chord_has(to->slot, from->semitones[i]))
            continue;
        count +=
            (moved(from, to, i) > -1 || moved(from, to, i) < -2) && !rises_with_bass(from, to, i);
    }
    return count;
}

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

/* A voice passes where its neighbour has just been. */
static size_t overlap(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    for (uint8_t i = 0; from && i + 1 < to->count; i++)
        count +=
            to->semitones[i] > from->semitones[i + 1] || to->semitones[i + 1] < from->semitones[i];
    return count;
}

static size_t augmented_step(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    for (uint8_t i = 0; from && i < to->count; i++)
        count += muta_pitch_is_augmented(from->at[i], to->at[i]);
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

const muta_voice_rule muta_voice_rules[] = {
    {"parallel fifths", 20000, parallel_fifths},
    {"parallel octaves", 24000, parallel_octaves},
    {"hidden fifths or octaves", 5000, hidden_perfect},
    {"leading tone not resolved", 12000, leading_unresolved},
    {"seventh not resolved", 12000, seventh_unresolved},
    {"voices too far apart", 9000, wide_spacing},
    {"voices crossing", 15000, crossing},
    {"voices overlapping", 4000, overlap},
    {"augmented step", 8000, augmented_step},
    {"leading tone doubled", 12000, doubled_leading},
    {"seventh doubled", 9000, doubled_seventh},
    {NULL, 0, NULL},
};

size_t muta_voicing_faults(const muta_voiced *from, const muta_voiced *to)
{
    size_t count = 0;

    for (const muta_voice_rule *rule = muta_voice_rules; rule->name && from->count == to->count;
         rule++)
        count += rule->count(from, to);
    return count;
}

/* ---- costs ---- */

/* In thousandths. */
enum {
    LACKS_THIRD = 12000,
    LACKS_SEVENTH = 6000,
    LACKS_ROOT = 3000,
    LACKS_FIFTH = 700,
    DOUBLES_THIRD = 900, /* of a major chord */
    UNISON = 800,
    SAME_KEY = 3000, /* the same in an accompaniment, whose figures it lames */
    A_SEMITONE = 70, /* that an upper voice moves */
    BASS_SEMITONE = 15,
    A_LEAP = 350,        /* each semitone beyond a fourth, of an upper voice */
    BASS_LEAP = 4000,    /* beyond an octave */
    TOGETHER = 500,      /* all voices the same way */
    OFF_CENTRE = 12,     /* each semitone from the middle of its range, of the upper voices */
    ABOVE_TUNE = 1500,   /* each semitone */
    LOW_CLUSTER = 400,   /* each semitone that the two lowest are closer than a fifth, down low */
    SUSPENDED = 600,     /* what is held falls by step into the chord */
    HELD_ASTRAY = 16000, /* what is held is none of the chord's, and does not */
};

static int64_t price_tones(const muta_voiced *to, bool is_top_apart)
{
    /* What a tune only touches has to be in the chord too. */
    const uint8_t heard = (uint8_t)(to->count - (is_top_apart && !to->slot->top_lasts ? 1 : 0));
    const muta_chord_row *const row = muta_chord_row_of(to->slot->value.kind);
    uint8_t counts[MUTA_CHORD_MOST] = {0};
    int64_t price = 0;

    for (uint8_t i = 0; i < heard; i++)
        if (to->tones[i] < MUTA_CHORD_MOST)
            counts[to->tones[i]]++;
    for (uint8_t tone = 0; tone < row->count; tone++) {
        const bool is_fifth = tone == 2 && row->fifths[2] == 1;
        if (counts[tone] == 0)
            price += tone == 0   ? LACKS_ROOT
                     : tone == 1 ? LACKS_THIRD
                     : is_fifth  ? LACKS_FIFTH
                                 : LACKS_SEVENTH;
    }
    if (counts[1] > 1 && row->classes[1] == 4)
        price += DOUBLES_THIRD;
    return price;
}

static int64_t price_motion(const muta_voiced *from, const muta_voiced *to, bool is_top_apart)
{
    const uint8_t count = (uint8_t)(to->count - (is_top_apart ? 1 : 0));
    int64_t price = 0;
    int ups = 0;
    int downs = 0;

    for (uint8_t i = 0; i < count; i++) {
        const int size = abs(moved(from, to, i));
        ups += moved(from, to, i) > 0;
        downs += moved(from, to, i) < 0;
        if (i == 0)
            price += size * BASS_SEMITONE + (size > 12 ? BASS_LEAP : 0);
        else
            price += size * A_SEMITONE + (size > 5 ? (size - 5) * A_LEAP : 0);
    }
    return price + (ups == count || downs == count ? TOGETHER : 0);
}

static int64_t price_rules(const muta_voiced *from, const muta_voiced *to, bool is_top_apart)
{
    muta_voiced below = *to;
    int64_t price = 0;

    if (is_top_apart)
        below.count--;
    for (const muta_voice_rule *rule = muta_voice_rules; rule->name; rule++) {
        const bool with_top = rule->count == parallel_fifths || rule->count == parallel_octaves ||
                              (rule->count == doubled_leading && to->slot->top_lasts);
        price += rule->weight * (int64_t)rule->count(from, is_top_apart && !with_top ? &below : to);
    }
    return price;
}

int64_t muta_voicing_price(const muta_voiced *from, const muta_voiced *to, bool is_top_apart)
{
    int64_t price = price_rules(from, to, is_top_apart);

    if (from)
        price += price_motion(from, to, is_top_apart);
    return price;
}

/* ---- candidates ---- */

struct option {
    muta_voiced voiced;
    int64_t cost; /* of how it stands */
};

typedef MUTA_VEC(struct option) options;

struct voicing {
    muta_arena arena;
    const muta_ensemble *ensemble;
    const muta_harmony_slot *slots;
    options *options;              /* by slot */
    const muta_harmony_slot *slot; /* whose candidates are built */
    options *to;
    muta_voiced made;
};

/* How a candidate stands, whatever went before. */
static int64_t price_standing(const struct voicing *voicing, const muta_voiced *voiced)
{
    const muta_ensemble *const ensemble = voicing->ensemble;
    const uint8_t own = (uint8_t)(voiced->count - (ensemble->is_top_apart ? 1 : 0));
    int64_t price = price_tones(voiced, ensemble->is_top_apart);

    for (uint8_t i = 0; i < own; i++) {
        const int middle =
            (muta_pitch_semitones(ensemble->low[i]) + muta_pitch_semitones(ensemble->high[i])) / 2;
        price += (int64_t)abs(voiced->semitones[i] - middle) * OFF_CENTRE;
        if (i > 0 && voiced->semitones[i] == voiced->semitones[i - 1])
            price += ensemble->is_top_apart ? SAME_KEY : UNISON;
        if (voiced->slot->ceiling > 0 && voiced->semitones[i] >= voiced->slot->ceiling)
            price += (int64_t)(voiced->semitones[i] - voiced->slot->ceiling + 1) * ABOVE_TUNE;
    }
    if (own > 1 && voiced->semitones[0] < 48 && voiced->semitones[1] - voiced->semitones[0] < 7)
        price += (int64_t)(7 - (voiced->semitones[1] - voiced->semitones[0])) * LOW_CLUSTER;
    return price;
}

/* Keeps the best of the candidates, the best first. */
static muta_status keep(struct voicing *voicing)
{
    struct option option = {.voiced = voicing->made};
    options *const to = voicing->to;
    struct option *added = NULL;
    size_t at;

    muta_voiced_read(&option.voiced);
    option.cost = price_standing(voicing, &option.voiced) +
                  price_rules(NULL, &option.voiced, voicing->ensemble->is_top_apart);
    if (to->count == voicing->ensemble->lean && to->at[to->count - 1].cost <= option.cost)
        return MUTA_OK;
    if (to->count < voicing->ensemble->lean) {
        added = MUTA_PUSH(&voicing->arena, to);
        if (!added)
            return MUTA_E_MEMORY;
    }
    for (at = to->count - 1; at > 0 && to->at[at - 1].cost > option.cost; at--)
        to->at[at] = to->at[at - 1];
    to->at[at] = option;
    return MUTA_OK;
}

static muta_status build(struct voicing *voicing, uint8_t voice);

/* One voice at a pitch, and all voices above it. */
static muta_status try(struct voicing *voicing, uint8_t voice, muta_pitch pitch)
{
    const muta_ensemble *const ensemble = voicing->ensemble;
    const int semitones = muta_pitch_semitones(pitch);
    const muta_voiced *const made = &voicing->made;
    const bool is_given = voice + 1 == made->count && voicing->slot->has_top;

    if (voice > 0 && semitones < made->semitones[voice - 1] && !ensemble->is_top_apart)
        return MUTA_OK;
    if (voice > 0 && !is_given && semitones < made->semitones[voice - 1])
        return MUTA_OK;
    if (ensemble->span > 0 && voice >= ensemble->hand_from && voice < ensemble->hand_to &&
        semitones - made->semitones[ensemble->hand_from] > ensemble->span &&
        voice > ensemble->hand_from)
        return MUTA_OK;
    voicing->made.at[voice] = pitch;
    voicing->made.semitones[voice] = (int16_t)semitones;
    return voice + 1 < made->count ? build(voicing, (uint8_t)(voice + 1)) : keep(voicing);
}

/* A tone of the chord, in each octave that the voice reaches. */
static muta_status try_tone(struct voicing *voicing, uint8_t voice, uint8_t tone)
{
    const muta_chord_row *const row = muta_chord_row_of(voicing->slot->value.kind);
    const int low = muta_pitch_semitones(voicing->ensemble->low[voice]);
    const int high = muta_pitch_semitones(voicing->ensemble->high[voice]);
    const int32_t fifths = voicing->slot->value.root + row->fifths[tone];

    for (int octave = muta_pitch_octave(voicing->ensemble->low[voice]) - 1; octave <= 9; octave++) {
        const muta_pitch pitch = muta_fifths_pitch(fifths, octave);
        const int semitones = muta_pitch_semitones(pitch);
        if (semitones > high)
            break;
        if (semitones >= low)
            MUTA_TRY(try(voicing, voice, pitch));
    }
    return MUTA_OK;
}

/* A chord that stands as it did. */
static muta_status build_given(struct voicing *voicing)
{
    for (uint8_t voice = 0; voice < voicing->made.count; voice++)
        voicing->made.at[voice] = voicing->slot->given[voice];
    return keep(voicing);
}

static muta_status build(struct voicing *voicing, uint8_t voice)
{
    const muta_harmony_slot *const slot = voicing->slot;
    const muta_chord_row *const row = muta_chord_row_of(slot->value.kind);

    if (voice == 0 && slot->has_bottom)
        return try(voicing, voice, slot->bottom);
    if (voice + 1 == voicing->made.count && slot->has_top)
        return try(voicing, voice, slot->top);
    for (uint8_t tone = 0; tone < row->count; tone++)
        if (voice > 0 || tone == slot->value.bass)
            MUTA_TRY(try_tone(voicing, voice, tone));
    return MUTA_OK;
}

static muta_status build_slot(struct voicing *voicing, size_t nth)
{
    voicing->slot = &voicing->slots[nth];
    voicing->to = &voicing->options[nth];
    voicing->made = (muta_voiced){.slot = voicing->slot, .count = voicing->ensemble->count};
    if (voicing->slot->is_given)
        return build_given(voicing);
    MUTA_TRY(build(voicing, 0));
    return voicing->to->count > 0 ? MUTA_OK : MUTA_E_RANGE;
}

/* ---- the search ---- */

static uint32_t count_options(void *context, size_t step)
{
    const struct voicing *const voicing = context;

    return (uint32_t)voicing->options[step].count;
}

/* What is held stays where it is, or falls into the chord as a suspension does. */
static int64_t price_held(const muta_voiced *from, const muta_voiced *to)
{
    int64_t price = 0;

    for (uint8_t i = 0; i < to->count; i++) {
        const int by = moved(from, to, i);
        if (!(to->slot->held & (1U << i)) || by == 0)
            continue;
        price += to->slot->falls & (1U << i) && (by == -1 || by == -2) ? SUSPENDED : HELD_ASTRAY;
    }
    return price;
}

/* How a chord stands when it ends. */
static void leave(muta_voiced *voiced)
{
    const muta_harmony_slot *const slot = voiced->slot;

    if (!slot->has_left)
        return;
    voiced->at[voiced->count - 1] = slot->left;
    muta_voiced_read(voiced);
}

static int64_t price_option(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct voicing *const voicing = context;
    const struct option *const option = &voicing->options[step].at[to];

    if (from == MUTA_NO_CANDIDATE)
        return option->cost;
    muta_voiced before = voicing->options[step - 1].at[from].voiced;
    leave(&before);
    /* What counts of how it stands is in the option's cost already, but for the rules. */
    return muta_voicing_price(&before, &option->voiced, voicing->ensemble->is_top_apart) +
           price_held(&before, &option->voiced) + price_standing(voicing, &option->voiced);
}

static muta_status find(struct voicing *voicing, size_t count, size_t pick, muta_voiced *voiced)
{
    const muta_search search = {voicing, count, count_options, price_option};
    muta_answer *const answers = muta_arena_take_array(&voicing->arena, pick, sizeof *answers);
    size_t found;

    voicing->options = muta_arena_take_array(&voicing->arena, count + 1, sizeof(options));
    if (!answers || !voicing->options)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(build_slot(voicing, i));
    MUTA_TRY(muta_search_best(&voicing->arena, &search, pick, answers, &found));
    if (found == 0)
        return MUTA_E_RANGE;
    const muta_answer *const answer = &answers[found < pick ? found - 1 : pick - 1];
    for (size_t i = 0; i < count; i++)
        voiced[i] = voicing->options[i].at[answer->taken[i]].voiced;
    return MUTA_OK;
}

muta_status muta_voicing_find(const muta_ensemble *ensemble, const muta_harmony_slot *slots,
                              size_t count, size_t pick, muta_voiced *voiced)
{
    struct voicing voicing = {.ensemble = ensemble, .slots = slots};

    if (count == 0)
        return MUTA_OK;
    const muta_status status = find(&voicing, count, pick, voiced);
    muta_arena_clear(&voicing.arena);
    return status;
}
