/*
 * splice.c: from what is meant back to the written notes: pitches through each part's transposition
 * at that moment, signatures, ties that no longer hold. It marks what changed; notate and the
 * writer do the rest.
 */
#include "mutanza/limits.h"
#include "score/notes.h"
#include "score/plan.h"

struct splice {
    const muta_plan *plan; /* NULL when nothing moves in time */
    const muta_passage *passage;
    muta_score *score;
    muta_diags *diags;
};

/* By how many fifths a signature lies beyond the limit, in whole circles: 9 sharps become 3 flats.
 */
static int circles_beyond(int32_t fifths)
{
    int circles = 0;

    for (; fifths > MUTA_LIMIT_FIFTHS; fifths -= 12)
        circles++;
    for (; fifths < -MUTA_LIMIT_FIFTHS; fifths += 12)
        circles--;
    return circles;
}

/*
 * The interval by which a part's signature, harmonies and notes move on the page at a moment: what
 * the pass said, written enharmonically where the part would pass seven accidentals.
 */
static muta_interval written_move(const struct splice *splice, const muta_part *part,
                                  muta_moment at)
{
    muta_interval by = splice->passage->keys_by;
    const muta_key_change *const change = muta_part_key_at(part, at);

    if (change && change->is_traditional && muta_interval_fifths(by) != 0)
        by.steps += circles_beyond(change->old.fifths + muta_interval_fifths(by));
    return by;
}

/* The step by which a note is respelled at a moment: 0 unless its part passed seven accidentals. */
static int respelling(const struct splice *splice, const muta_part *part, muta_moment at)
{
    return splice->passage->keys_moved
               ? written_move(splice, part, at).steps - splice->passage->keys_by.steps
               : 0;
}

static muta_pitch sound_of(const muta_part *part, const muta_note *note)
{
    const muta_moment at = {note->bar, note->staff, note->onset};

    return muta_pitch_add(note->pitch, muta_part_transposition_at(part, at));
}

static bool is_double(muta_pitch pitch)
{
    const int sharps = muta_pitch_sharps(pitch);

    return sharps > 1 || sharps < -1;
}

/*
 * In a part that is written enharmonically a tone that the composer had borrowed from the other
 * side (a flat in a key of sharps) would get a double sign that nobody wrote.
 */
static muta_pitch simplified(muta_pitch pitch)
{
    const muta_pitch simple = muta_pitch_respelled(pitch, pitch.alter > 0 ? 1 : -1);

    return is_double(simple) ? pitch : simple;
}

/* Each note of a tied chain moves by itself, so that one tied to its enharmonic twin keeps that. */
static muta_pitch written_pitch(const struct splice *splice, const muta_part *part,
                                const muta_note *note, muta_interval by)
{
    const muta_moment at = {note->bar, note->staff, note->onset};
    muta_pitch pitch = muta_pitch_add(note->pitch, by);

    const int steps = respelling(splice, part, at);

    for (int left = steps; left != 0; left += left < 0 ? 1 : -1)
        pitch = muta_pitch_respelled(pitch, left < 0 ? -1 : 1);
    if (steps != 0 && !is_double(note->pitch) && is_double(pitch))
        pitch = simplified(pitch);
    /* More than a double sharp or flat is not readable, whatever the key. */
    while (muta_pitch_sharps(pitch) > 2)
        pitch = muta_pitch_respelled(pitch, 1);
    while (muta_pitch_sharps(pitch) < -2)
        pitch = muta_pitch_respelled(pitch, -1);
    return pitch;
}

muta_pitch muta_notes_written(const muta_passage *passage, muta_score *score, const muta_part *part,
                              muta_moment at, muta_pitch sounding)
{
    const struct splice splice = {.passage = passage, .score = score};
    const muta_interval back = muta_interval_negate(muta_part_transposition_at(part, at));
    const muta_note note = {.bar = at.bar, .staff = at.staff, .onset = at.onset, .pitch = sounding};

    return written_pitch(&splice, part, &note, back);
}

static bool in_octaves(muta_pitch pitch)
{
    return pitch.place >= 0 && muta_pitch_octave(pitch) <= MUTA_LIMIT_OCTAVE;
}

/* The written notes of a tone, one after another along its ties. */
static muta_note *next_source(muta_part *part, const muta_note *note)
{
    return note->tied_to == MUTA_NO_NOTE ? NULL : &part->notes.at[note->tied_to];
}

static muta_part *part_of(const struct splice *splice, const muta_tone *tone)
{
    return &splice->score->parts[splice->passage->work.lines.at[tone->line].part];
}

static muta_status refuse_octave(const struct splice *splice, const muta_part *part, muta_moment at)
{
    muta_diag_add(splice->diags, MUTA_ERROR, muta_score_place(splice->score, part, at),
                  "a tone would leave octaves 0 to 9; move it by less");
    return MUTA_E_DATA;
}

/* Nothing is written before everything is known to fit. */
static muta_status check_range(const struct splice *splice)
{
    for (size_t i = 0; i < splice->passage->work.tones.count; i++) {
        const muta_tone *const tone = &splice->passage->work.tones.at[i];
        const muta_part *const part = part_of(splice, tone);
        if (tone->source == MUTA_NO_SOURCE) {
            if (!in_octaves(tone->pitch))
                return refuse_octave(splice, part, splice->passage->from);
            continue;
        }
        const muta_note *const note = &part->notes.at[tone->source];
        const muta_moment at = {note->bar, note->staff, note->onset};
        const muta_interval by = muta_pitch_between(sound_of(part, note), tone->pitch);
        if (tone->is_pitch_changed &&
            !(in_octaves(tone->pitch) && in_octaves(written_pitch(splice, part, note, by))))
            return refuse_octave(splice, part, at);
    }
    return MUTA_OK;
}

/* A tone that is written anew gets its pitch then. */
static bool is_moved(const struct splice *splice, const muta_tone *tone)
{
    return splice->plan && !muta_plan_keeps(splice->plan, splice->passage, tone->event);
}

static void set_pitches(const struct splice *splice)
{
    for (size_t i = 0; i < splice->passage->work.tones.count; i++) {
        const muta_tone *const tone = &splice->passage->work.tones.at[i];
        muta_part *const part = part_of(splice, tone);
        if (!tone->is_pitch_changed || is_moved(splice, tone))
            continue;
        muta_note *note = &part->notes.at[tone->source];
        const muta_interval by = muta_pitch_between(sound_of(part, note), tone->pitch);
        for (uint32_t left = tone->source_count; left > 0 && note; left--) {
            muta_note_set_pitch(note, written_pitch(splice, part, note, by));
            note = next_source(part, note);
        }
    }
}

/* A tie holds as long as both ends sound the same. */
static void part_ties(const struct splice *splice, muta_part *part)
{
    for (uint32_t i = 0; i < part->notes.count; i++) {
        muta_note *const to = &part->notes.at[i];
        if (to->tied_from == MUTA_NO_NOTE)
            continue;
        muta_note *const from = &part->notes.at[to->tied_from];
        if (((from->changed | to->changed) & MUTA_CHANGED_PITCH) &&
            muta_pitch_sound(sound_of(part, from)) != muta_pitch_sound(sound_of(part, to))) {
            const muta_moment at = {to->bar, to->staff, to->onset};
            muta_note_part_tie(part, i);
            muta_diag_add(splice->diags, MUTA_WARNING, muta_score_place(splice->score, part, at),
                          "a tie was cut: its notes are not of one pitch any more");
        }
    }
}

/* Whether the track says a signature for this staff at exactly this moment. */
static bool says_key(const muta_part *part, muta_moment at)
{
    const muta_key_change *const change = muta_part_key_at(part, at);

    return change && muta_moment_compare(change->at, at) == 0;
}

/* Whether the staves of a part have signatures of their own. */
static bool has_staff_keys(const muta_part *part)
{
    for (size_t i = 0; i < part->keys.count; i++)
        if (part->keys.at[i].at.staff != MUTA_ALL_STAVES)
            return true;
    return false;
}

/* Says the signature that is in force at a moment anew, unless it is said there already. */
static muta_status say_key_again(muta_part *part, muta_moment at)
{
    const muta_key_change *const change = muta_part_key_at(part, at);

    if (!change || says_key(part, at))
        return MUTA_OK;
    muta_key_change again = *change;
    muta_key_change *const put = MUTA_PUSH(&part->arena, &part->keys);
    if (!put)
        return MUTA_E_MEMORY;
    again.at = at;
    again.node = 0;
    again.is_changed = true;
    *put = again;
    muta_part_sort_tracks(part);
    return MUTA_OK;
}

/*
 * At each edge of the passage where a signature goes on, it is said anew: at the start, to be moved
 * with the passage, and at the end, as it was.
 */
static muta_status fence_keys(muta_part *part, muta_moment at)
{
    if (at.bar >= part->bar_count)
        return MUTA_OK;
    at.staff = MUTA_ALL_STAVES;
    if (!has_staff_keys(part))
        return say_key_again(part, at);
    for (size_t staff = 1; staff <= part->staves && staff <= UINT8_MAX; staff++) {
        at.staff = (uint8_t)staff;
        MUTA_TRY(say_key_again(part, at));
    }
    return MUTA_OK;
}

/* A part of percussion alone, by its instruments or by its clef: its signature means nothing. */
static bool plays_percussion(const muta_part *part)
{
    bool fixed = false;

    for (size_t i = 0; i < part->notes.count; i++) {
        const uint32_t flags = part->notes.at[i].flags;
        if (!(flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED)))
            return false;
        fixed = fixed || (flags & MUTA_NOTE_FIXED);
    }
    return fixed || part->is_fixed;
}

static muta_status move_keys(const struct splice *splice, muta_part *part)
{
    const muta_passage *const passage = splice->passage;

    if (!part->has_key || plays_percussion(part))
        return MUTA_OK;
    if (muta_interval_fifths(passage->keys_by) != 0) {
        MUTA_TRY(fence_keys(part, passage->to));
        MUTA_TRY(fence_keys(part, passage->from));
    }
    for (size_t i = 0; i < part->keys.count; i++) {
        muta_key_change *const change = &part->keys.at[i];
        if (muta_moment_compare(change->at, passage->from) < 0 ||
            muta_moment_compare(change->at, passage->to) >= 0)
            continue;
        const muta_interval by = written_move(splice, part, change->at);
        change->moved = by;
        if (change->is_traditional)
            change->key.fifths += muta_interval_fifths(by);
        change->is_changed = muta_interval_fifths(by) != 0;
    }
    return MUTA_OK;
}

/* The entry of the passage for a signature that stands in it; NULL when there is none. */
static const muta_passage_key_entry *entry_of(const struct splice *splice, const muta_part *part,
                                              const muta_key_change *change)
{
    const muta_passage *const passage = splice->passage;
    const uint32_t index = (uint32_t)(part - splice->score->parts);
    const muta_fraction at = muta_fraction_subtract(
        muta_fraction_add(muta_part_bar_start(splice->score, part, change->at.bar),
                          change->at.onset),
        muta_passage_start(passage, index));
    const muta_passage_key_entry *found = NULL;

    for (size_t i = 0; i < passage->keys.count; i++) {
        const muta_passage_key_entry *const entry = &passage->keys.at[i];
        if (entry->part == index &&
            (entry->staff == MUTA_ALL_STAVES || change->at.staff == MUTA_ALL_STAVES ||
             entry->staff == change->at.staff) &&
            muta_fraction_compare(entry->onset, at) <= 0)
            found = entry;
    }
    return found;
}

/* Signatures get another mode where they stand. */
static muta_status recast_keys(const struct splice *splice, muta_part *part)
{
    const muta_passage *const passage = splice->passage;

    if (!part->has_key || plays_percussion(part))
        return MUTA_OK;
    MUTA_TRY(fence_keys(part, passage->to));
    MUTA_TRY(fence_keys(part, passage->from));
    for (size_t i = 0; i < part->keys.count; i++) {
        muta_key_change *const change = &part->keys.at[i];
        const muta_passage_key_entry *const entry = entry_of(splice, part, change);
        if (!entry || !change->is_traditional ||
            muta_moment_compare(change->at, passage->from) < 0 ||
            muta_moment_compare(change->at, passage->to) >= 0)
            continue;
        change->key.fifths += entry->recast;
        change->key.mode = entry->recast_to;
        change->is_changed = change->is_recast = true;
    }
    return MUTA_OK;
}

static void move_harmonies(const struct splice *splice, muta_part *part)
{
    for (size_t i = 0; i < part->harmonies.count; i++) {
        muta_harmony *const harmony = &part->harmonies.at[i];
        if (muta_moment_compare(harmony->at, splice->passage->from) < 0 ||
            muta_moment_compare(harmony->at, splice->passage->to) >= 0)
            continue;
        harmony->moved = written_move(splice, part, harmony->at);
        harmony->is_changed = harmony->moved.steps != 0 || harmony->moved.size != 0;
    }
}

muta_status muta_notes_splice(const muta_plan *plan, const muta_passage *passage, muta_score *score,
                              muta_moment *keys_from, muta_moment *keys_to, muta_diags *diags)
{
    const struct splice splice = {plan, passage, score, diags};
    const bool keys = passage->keys_recast ||
                      (passage->keys_moved && muta_interval_fifths(passage->keys_by) != 0);

    MUTA_TRY(check_range(&splice));
    set_pitches(&splice);
    for (size_t i = 0; i < score->part_count; i++) {
        muta_part *const part = &score->parts[i];
        part_ties(&splice, part);
        if (passage->keys_recast && muta_passage_works_on(passage, (uint32_t)i))
            MUTA_TRY(recast_keys(&splice, part));
        if (!passage->keys_moved || !muta_passage_works_on(passage, (uint32_t)i))
            continue;
        move_harmonies(&splice, part);
        MUTA_TRY(move_keys(&splice, part));
    }
    *keys_from = passage->from;
    *keys_to = keys ? passage->to : passage->from;
    return MUTA_OK;
}
