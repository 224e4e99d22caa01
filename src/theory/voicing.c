/* voicing.c: the search through the voicings of a row of chords, and what is a matter of taste in
 * it. */
#include "theory/voicing.h"
#include "base/search.h"
#include "base/vec.h"
#include <stdlib.h>

/* ---- taste ---- */

/* In thousandths; set by hand. */
enum {
    SAME_KEY = 2200, /* two voices of an accompaniment on one key lame its figures */
    A_SEMITONE = 70, /* that an upper voice moves */
    BASS_SEMITONE = 15,
    A_LEAP = 350,      /* each semitone beyond a fourth, of an upper voice */
    TOGETHER = 500,    /* all voices the same way */
    OFF_CENTRE = 12,   /* each semitone from the middle of its range, of the upper voices */
    ABOVE_TUNE = 1500, /* each semitone */
};

static int64_t price_motion(const muta_voiced *from, const muta_voiced *to, bool is_top_apart)
{
    const uint8_t count = (uint8_t)(to->count - (is_top_apart ? 1 : 0));
    int64_t price = 0;
    int ups = 0;
    int downs = 0;

    for (uint8_t i = 0; i < count; i++) {
        const int moves = to->semitones[i] - from->semitones[i];
        const int size = abs(moves);
        ups += moves > 0;
        downs += moves < 0;
        price += (int64_t)size * (i == 0 ? BASS_SEMITONE : A_SEMITONE);
        if (i > 0 && size > 5)
            price += (int64_t)(size - 5) * A_LEAP;
    }
    return price + (ups == count || downs == count ? TOGETHER : 0);
}

int64_t muta_voicing_price_way(const muta_voiced *from, const muta_voiced *to, bool is_top_apart)
{
    return muta_rules_price_way(from, to, is_top_apart) + price_motion(from, to, is_top_apart);
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
    int64_t price = muta_rules_price_standing(voiced, ensemble->is_top_apart);

    for (uint8_t i = 0; i < own; i++) {
        const int middle =
            (muta_pitch_semitones(ensemble->low[i]) + muta_pitch_semitones(ensemble->high[i])) / 2;
        price += (int64_t)abs(voiced->semitones[i] - middle) * OFF_CENTRE;
        if (i > 0 && voiced->semitones[i] == voiced->semitones[i - 1] && ensemble->is_top_apart)
            price += SAME_KEY;
        if (voiced->slot->ceiling > 0 && voiced->semitones[i] >= voiced->slot->ceiling)
            price += (int64_t)(voiced->semitones[i] - voiced->slot->ceiling + 1) * ABOVE_TUNE;
    }
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
    option.cost = price_standing(voicing, &option.voiced);
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
    return option->cost +
           muta_voicing_price_way(&before, &option->voiced, voicing->ensemble->is_top_apart);
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
