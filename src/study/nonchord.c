/* nonchord.c: why a tone does not belong to its chord. Source of the classes: common practice. */
#include "study/study.h"

const char *const muta_nonchord_names[] = {[MUTA_CHORD_TONE] = "chord",
                                           [MUTA_PASSING] = "passing",
                                           [MUTA_NEIGHBOUR] = "neighbour",
                                           [MUTA_SUSPENSION] = "suspension",
                                           [MUTA_APPOGGIATURA] = "appoggiatura",
                                           [MUTA_ANTICIPATION] = "anticipation",
                                           [MUTA_ESCAPE] = "escape",
                                           [MUTA_PEDAL] = "pedal",
                                           [MUTA_FREE] = "free"};

static bool belongs(const muta_heard_tone *tone, const muta_heard_chord *chord)
{
    return muta_chord_tone(chord->value.kind, tone->pitch_class - muta_heard_root(chord)) >= 0;
}

/*
 * How a tone is reached and left, where it is struck again and again in one chord: the whole row of
 * them. A row that goes on in the next chord stays where it is there.
 */
static uint8_t reached_in(const muta_heard_tone *tone, const muta_heard_chord *chord)
{
    return tone->first >= chord->from ? tone->row_reached : (uint8_t)MUTA_MOTION_SAME;
}

static uint8_t left_in(const muta_heard_tone *tone, const muta_heard_chord *chord)
{
    return tone->last < chord->to ? tone->row_left : (uint8_t)MUTA_MOTION_SAME;
}

/* A tone that its chord had, and that a later chord has no more. */
static muta_nonchord judge_held(const muta_study *study, const muta_heard_tone *tone,
                                const muta_heard_chord *chord)
{
    const muta_heard_chord *const end = study->chords.at + study->chords.count;
    size_t changes = 0;
    bool is_out = false;

    for (chord++; chord < end && chord->from < tone->to; chord++) {
        changes++;
        is_out = is_out || !belongs(tone, chord);
    }
    if (!is_out)
        return MUTA_CHORD_TONE;
    return muta_motion_is_step(left_in(tone, chord - 1)) ? MUTA_SUSPENSION
           : changes >= 2                                ? MUTA_PEDAL
                                                         : MUTA_FREE;
}

static muta_nonchord judge(const muta_study *study, const muta_heard_tone *tone)
{
    const muta_heard_chord *const chord = muta_look_chord(study, tone->from);

    if (!chord)
        return MUTA_CHORD_TONE;
    if (belongs(tone, chord))
        return judge_held(study, tone, chord);
    const uint8_t from = reached_in(tone, chord);
    const uint8_t to = left_in(tone, chord);
    const bool reached = muta_motion_is_step(from);
    const bool left = muta_motion_is_step(to);

    if (reached && left)
        return from == to ? MUTA_PASSING : MUTA_NEIGHBOUR;
    if (from == MUTA_MOTION_SAME && left)
        return MUTA_SUSPENSION;
    if (to == MUTA_MOTION_SAME)
        return chord + 1 < study->chords.at + study->chords.count && belongs(tone, chord + 1)
                   ? MUTA_ANTICIPATION
                   : MUTA_FREE;
    return left ? MUTA_APPOGGIATURA : reached ? MUTA_ESCAPE : MUTA_FREE;
}

muta_status muta_nonchords_find(muta_study *study)
{
    study->nonchords = muta_arena_take(&study->arena, study->heard.tones.count + 1);
    if (!study->nonchords)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < study->heard.tones.count; i++)
        study->nonchords[i] = (uint8_t)judge(study, &study->heard.tones.at[i]);
    return MUTA_OK;
}
