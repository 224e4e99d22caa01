/* repitch.c: tones on other pitches, and the keys and chords that go along. */
#include "mutanza/limits.h"
#include "score/sense.h"
#include <string.h>

/* The pitch that the tone's first written note has in the score, as it sounds. */
static muta_pitch written_sound(const muta_passage *passage, const muta_tone *tone)
{
    const muta_part *const part = &passage->score->parts[passage->work.lines.at[tone->line].part];
    const muta_note *const note = &part->notes.at[tone->source];
    const muta_moment at = {note->bar, note->staff, note->onset};

    return muta_pitch_add(note->pitch, muta_part_transposition_at(part, at));
}

static int32_t fifths_at(const muta_passage *passage, const muta_tone *tone)
{
    return muta_passage_fifths_at(passage, tone, passage->work.events.at[tone->event].onset);
}

static muta_key heard_key(const muta_passage *passage, const muta_tone *tone)
{
    return muta_sense_at(passage, tone, passage->work.events.at[tone->event].onset).key;
}

static int32_t alter_in(muta_key key, muta_pitch pitch)
{
    return muta_key_sharps(key.fifths, muta_pitch_step(pitch)) * MUTA_SEMITONE;
}

/* What a tone is away from its degree: in minor the raised sixth and seventh are degrees too. */
static int32_t away_from(muta_key key, muta_pitch pitch)
{
    const int32_t away = pitch.alter - alter_in(key, pitch);
    const int degree = (muta_pitch_step(pitch) - muta_pitch_step(muta_key_tonic(key)) + 7) % 7;

    return key.mode == MUTA_MINOR && degree >= 5 && away == MUTA_SEMITONE ? 0 : away;
}

/* A sign that nobody expects in the key, as E sharp in C major: such a tone is the key's own. */
static muta_pitch expected_in(muta_key key, muta_pitch pitch)
{
    const int32_t own = alter_in(key, pitch);
    const int32_t away = pitch.alter - own;
    const int step = muta_pitch_step(pitch);
    const bool is_e_or_b = step == 2 || step == 6;
    const bool is_c_or_f = step == 0 || step == 3;

    if (away != 0 && (pitch.alter >= 2 * MUTA_SEMITONE || pitch.alter <= -2 * MUTA_SEMITONE ||
                      (is_e_or_b && pitch.alter >= MUTA_SEMITONE) ||
                      (is_c_or_f && pitch.alter <= -MUTA_SEMITONE)))
        pitch.alter = own;
    return pitch;
}

/* Along the scale of the key; what the tone is away from its degree goes along. */
static muta_pitch moved_in_key(muta_pitch pitch, int32_t steps, muta_key key)
{
    const int32_t away = away_from(key, pitch);

    pitch.place += steps;
    if (steps % 7 == 0) /* the same degree, whatever sign it has */
        return pitch;
    pitch.alter = alter_in(key, pitch) + away;
    return expected_in(key, pitch);
}

muta_status muta_passage_play(muta_passage *passage, uint32_t part, const muta_technique *technique,
                              muta_fraction from, muta_fraction to)
{
    muta_playing *const playing = MUTA_PUSH(&passage->arena, &passage->playing);

    if (!playing)
        return MUTA_E_MEMORY;
    *playing = (muta_playing){part, from, to, *technique};
    return MUTA_OK;
}

void muta_passage_set_pitch(muta_passage *passage, muta_tone *tone, muta_pitch pitch)
{
    if (tone->is_fixed)
        return;
    tone->pitch = pitch;
    tone->is_pitch_changed = tone->source != MUTA_NO_SOURCE &&
                             !muta_pitch_is_equal(tone->pitch, written_sound(passage, tone));
}

void muta_passage_reflect(muta_passage *passage, muta_tone *tone, muta_pitch axis, muta_kind kind)
{
    enum {
        FARTHEST = 8 /* fifths from the middle of the key: in C major G flat and A sharp */
    };
    const muta_key key = heard_key(passage, tone);
    muta_pitch pitch = muta_pitch_add(axis, muta_pitch_between(tone->pitch, axis));

    if (kind == MUTA_TONAL) {
        pitch.alter = alter_in(key, pitch) - away_from(key, tone->pitch);
        pitch = expected_in(key, pitch);
    } else if (muta_pitch_distance(pitch, key.fifths) > FARTHEST) {
        pitch = muta_pitch_of_sound(muta_pitch_sound(pitch), key.fifths);
    }
    muta_passage_set_pitch(passage, tone, pitch);
}

int32_t muta_passage_fifths(const muta_passage *passage, const muta_tone *tone)
{
    return fifths_at(passage, tone);
}

muta_status muta_passage_move(muta_passage *passage, muta_tone *tone, muta_interval by,
                              int64_t times, muta_kind kind)
{
    enum {
        FARTHEST = 10000
    }; /* steps; far beyond any score, far within 32 bits */
    const int64_t steps = by.steps * times;
    const int64_t size = by.size * times;

    if (tone->is_fixed)
        return MUTA_OK;
    if (steps > FARTHEST || steps < -FARTHEST || size > FARTHEST * (int64_t)MUTA_SEMITONE ||
        size < -FARTHEST * (int64_t)MUTA_SEMITONE)
        return MUTA_E_RANGE;
    muta_passage_set_pitch(
        passage, tone,
        kind == MUTA_TONAL
            ? moved_in_key(tone->pitch, (int32_t)steps, heard_key(passage, tone))
            : muta_pitch_add(tone->pitch, (muta_interval){(int32_t)steps, (int32_t)size}));
    return MUTA_OK;
}

/* Whether signatures go along, as a person or what the passage covers says. */
static muta_status check_keys(const muta_passage *passage, muta_keys keys, bool *go,
                              muta_diags *diags)
{
    *go = keys == MUTA_KEYS_MOVE || (keys == MUTA_KEYS_AUTO && passage->is_everything);
    if (*go && !passage->is_whole_bars) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "keys=move needs a passage of whole bars, where a signature can change");
        return MUTA_E_DATA;
    }
    if (*go && !passage->is_whole_parts) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "keys=move needs whole parts: a signature speaks for all of a part's voices");
        return MUTA_E_DATA;
    }
    return MUTA_OK;
}

muta_status muta_passage_own_chords(muta_passage *passage, muta_passage_chord **chords)
{
    const bool placed = passage->has_own_chords;

    *chords = muta_arena_take_array(&passage->arena, passage->chord_count + 1, sizeof **chords);
    if (!*chords)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < passage->chord_count; i++)
        (*chords)[i] = passage->chords[i];
    passage->chords = *chords;
    passage->has_own_chords = placed;
    passage->keeps_chords = true;
    return MUTA_OK;
}

/* Chords that were heard go with the keys, as symbols do. */
static muta_status move_chords(muta_passage *passage, int32_t fifths)
{
    muta_passage_chord *chords;

    if (passage->chord_count == 0)
        return MUTA_OK;
    MUTA_TRY(muta_passage_own_chords(passage, &chords));
    for (size_t i = 0; i < passage->chord_count; i++) {
        chords[i].value.root += fifths;
        chords[i].tonic += fifths;
    }
    return MUTA_OK;
}

muta_status muta_passage_move_keys(muta_passage *passage, muta_interval by, muta_keys keys,
                                   muta_diags *diags)
{
    bool go;

    MUTA_TRY(check_keys(passage, keys, &go, diags));
    if (!go)
        return MUTA_OK;
    for (size_t i = 0; i < passage->keys.count; i++)
        passage->keys.at[i].key.fifths += muta_interval_fifths(by);
    passage->keys_by.steps += by.steps;
    passage->keys_by.size += by.size;
    passage->keys_moved = true;
    return move_chords(passage, muta_interval_fifths(by));
}

/* By how many fifths the signature of a mode differs from the major's on the same tonic. */
static int32_t fifths_of(muta_mode mode)
{
    const muta_key key = {0, mode};
    const muta_pitch tonic = muta_key_tonic(key);
    const muta_interval above_c = muta_pitch_between((muta_pitch){28, 0}, tonic);

    return -muta_interval_fifths(above_c);
}

muta_status muta_passage_recast_keys(muta_passage *passage, const muta_scale *scale, muta_keys keys,
                                     muta_diags *diags)
{
    bool go;

    MUTA_TRY(check_keys(passage, keys, &go, diags));
    for (size_t i = 0; go && i < passage->keys.count; i++) {
        const muta_passage_key_entry *const entry = &passage->keys.at[i];
        const muta_interval sounds =
            muta_part_transposition_at(&passage->score->parts[entry->part], passage->from);
        const int32_t written = entry->key.fifths + scale->fifths - fifths_of(entry->key.mode) -
                                muta_interval_fifths(sounds);
        if (written > MUTA_LIMIT_FIFTHS || written < -MUTA_LIMIT_FIFTHS) {
            muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                          "the new signature would have more than seven signs; the old one stays");
            return MUTA_OK;
        }
    }
    for (size_t i = 0; go && i < passage->keys.count; i++) {
        muta_passage_key_entry *const entry = &passage->keys.at[i];
        const int32_t by = scale->fifths - fifths_of(entry->key.mode);
        entry->recast += by;
        entry->recast_to = scale->mode;
        entry->key.fifths += by;
        entry->key.mode = scale->mode;
    }
    passage->keys_recast = passage->keys_recast || go;
    passage->scale = *scale;
    return MUTA_OK;
}
