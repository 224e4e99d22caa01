/* harmonising_slots.c: the whiles in which one chord stands, and what the tune and the
 * accompaniment do in them. */
#include "passes/harmonising.h"
#include "score/sense.h"
#include "theory/scale.h"
#include <stdlib.h>
#include <string.h>

muta_status muta_harmonising_add_slot(struct muta_harmonising *work, muta_fraction from,
                                      muta_fraction to, const muta_passage_chord *old,
                                      bool is_split)
{
    struct muta_harmonised_slot *const slot = MUTA_PUSH(&work->arena, &work->slots);

    if (!slot)
        return MUTA_E_MEMORY;
    *slot = (struct muta_harmonised_slot){
        .from = from, .to = to, .old = old, .is_split = is_split, .pedal = MUTA_NO_CLASS};
    if (!is_split && work->slots.count > 1) {
        const muta_passage_chord *const before = slot[-1].old;
        slot->is_turned =
            muta_fifths_class(before->value.root) == muta_fifths_class(old->value.root) &&
            before->value.kind == old->value.kind;
    }
    return MUTA_OK;
}

/* The first chord stays, and that of a pick-up with it; so does the last, which closes. */
void muta_harmonising_fix_ends(struct muta_harmonising *work)
{
    struct muta_harmonised_slot *const last = &work->slots.at[work->slots.count - 1];
    muta_beat beat;

    last->is_close = true;
    muta_passage_beat_at(work->call->in, MUTA_ZERO, &beat);
    for (size_t i = 0; i < work->slots.count && !work->slots.at[i].is_abroad; i++) {
        work->slots.at[i].is_fixed = true;
        if (beat.bar.top >= 0 || muta_fraction_compare(work->slots.at[i].from, beat.end) >= 0)
            break;
    }
    last->is_fixed = !last->is_abroad;
}

/* In which of so many parts of its bar a moment lies. */
static int64_t part_of_bar(const struct muta_harmonising *work, muta_fraction time,
                           muta_fraction *bar)
{
    muta_beat beat;

    muta_passage_beat_at(work->call->in, time, &beat);
    const muta_fraction whole = muta_fraction_subtract(beat.end, beat.bar);
    const muta_fraction part = muta_fraction_scale(
        muta_fraction_divide(muta_fraction_subtract(time, beat.bar), whole), work->most);
    *bar = beat.bar;
    return part.bottom > 0 ? part.top / part.bottom : 0;
}

/* A slot takes the one behind it in; of the old chords that stays which lasts longest. */
static muta_status take_in(struct muta_harmonising *work, struct muta_harmonised_slot *slot,
                           const struct muta_harmonised_slot *next, muta_fraction *longest)
{
    const muta_fraction lasts = muta_fraction_subtract(next->to, next->from);
    muta_passage_chord *const old = muta_arena_take(&work->arena, sizeof *old);

    if (!old)
        return MUTA_E_MEMORY;
    *old = muta_fraction_compare(lasts, *longest) > 0 ? *next->old : *slot->old;
    old->is_written = false; /* the symbols go that were written for less */
    *longest = muta_fraction_max(lasts, *longest);
    slot->old = old;
    slot->to = next->to;
    return MUTA_OK;
}

/* What lies in one part of a bar becomes one slot. */
static muta_status thin_slots(struct muta_harmonising *work)
{
    struct muta_harmonised_slot *const slots = work->slots.at;
    muta_fraction longest = MUTA_ZERO;
    muta_fraction last_bar = MUTA_ZERO;
    int64_t last = -1;
    size_t kept = 0;

    for (size_t i = 0; i < work->slots.count; i++) {
        muta_fraction bar;
        const int64_t part = part_of_bar(work, slots[i].from, &bar);
        if (kept > 0 && part == last && muta_fraction_compare(bar, last_bar) == 0) {
            MUTA_TRY(take_in(work, &slots[kept - 1], &slots[i], &longest));
            continue;
        }
        longest = muta_fraction_subtract(slots[i].to, slots[i].from);
        slots[kept++] = slots[i];
        last = part;
        last_bar = bar;
    }
    work->slots.count = kept;
    return MUTA_OK;
}

muta_status muta_harmonising_find_slots(struct muta_harmonising *work,
                                        const muta_passage_chord *chords, size_t count)
{
    const muta_passage *const in = work->call->in;

    for (size_t i = 0; i < count; i++) {
        const muta_passage_chord *const chord = &chords[i];
        const muta_fraction end = chord->to;
        muta_fraction at = chord->from;
        bool is_split = false;
        while (muta_fraction_compare(at, end) < 0) {
            muta_beat beat;
            muta_passage_beat_at(in, at, &beat);
            muta_fraction to = muta_fraction_min(end, beat.end);
            if (muta_fraction_compare(to, at) <= 0)
                to = end;
            MUTA_TRY(muta_harmonising_add_slot(work, at, to, chord, is_split));
            is_split = true;
            at = to;
        }
    }
    if (work->most > 0)
        MUTA_TRY(thin_slots(work));
    if (work->slots.count > 0)
        muta_harmonising_fix_ends(work);
    return MUTA_OK;
}

static muta_fraction end_of(const muta_event *event)
{
    return muta_fraction_add(event->onset, event->duration);
}

static int by_onset(const void *a, const void *b)
{
    const struct muta_harmonised_note *const one = a;
    const struct muta_harmonised_note *const two = b;
    const int onsets = muta_fraction_compare(one->onset, two->onset);
    const int ends = muta_fraction_compare(one->end, two->end);

    if (onsets != 0 || ends != 0)
        return onsets != 0 ? onsets : ends;
    return one->semitones < two->semitones ? -1 : one->semitones > two->semitones;
}

muta_status muta_harmonising_find_tune(struct muta_harmonising *work)
{
    /* Over chords that change with the bars tones may pass on weak beats. */
    const muta_level strong =
        work->alone && work->pace != MUTA_CHORD_A_BEAT ? MUTA_LEVEL_HALF : MUTA_LEVEL_BEAT;

    for (size_t i = 0; i < work->work.tone_count; i++) {
        const muta_tone *const tone = &work->work.tones[i];
        const muta_event *const event = &work->work.events[tone->event];
        if ((!tone->is_tune && !work->alone) || tone->is_fixed || event->is_grace || event->is_cue)
            continue;
        struct muta_harmonised_note *const note = MUTA_PUSH(&work->arena, &work->tune);
        if (!note)
            return MUTA_E_MEMORY;
        *note = (struct muta_harmonised_note){
            .onset = event->onset,
            .end = muta_fraction_add(event->onset, tone->duration),
            .pitch = tone->pitch,
            .semitones = muta_pitch_semitones(tone->pitch),
            .is_strong = event->level <= strong,
            .closes = event->closes && (work->alone || work->work.lines[tone->line].is_tune)};
    }
    muta_sort(work->tune.at, work->tune.count, sizeof *work->tune.at, by_onset);
    return MUTA_OK;
}

/* What the tune does in a slot: its first tone, and whether a phrase ends. */
static void hear_slot(const struct muta_harmonising *work, struct muta_harmonised_slot *slot)
{
    for (size_t i = slot->note; i < slot->note_end; i++) {
        const struct muta_harmonised_note *const note = &work->tune.at[i];
        if (slot->tune == 0)
            slot->tune = (int16_t)note->semitones;
        slot->tune_class = (uint8_t)muta_semitones_class(slot->tune);
        slot->last = (int16_t)note->semitones;
        slot->last_class = (uint8_t)muta_semitones_class(slot->last);
        const bool begins = muta_fraction_compare(note->onset, slot->from) >= 0;
        slot->is_close = slot->is_close || (note->closes && begins);
        slot->is_after = slot->is_after || (note->closes && !begins);
    }
}

static void hear_tune(struct muta_harmonising *work)
{
    size_t at = 0;

    for (size_t i = 0; i < work->slots.count; i++) {
        struct muta_harmonised_slot *const slot = &work->slots.at[i];
        while (at < work->tune.count &&
               muta_fraction_compare(work->tune.at[at].end, slot->from) <= 0)
            at++;
        slot->note = slot->note_end = at;
        while (slot->note_end < work->tune.count &&
               muta_fraction_compare(work->tune.at[slot->note_end].onset, slot->to) < 0)
            slot->note_end++;
        hear_slot(work, slot);
    }
}

static int32_t degree_of(const struct muta_harmonised_slot *slot)
{
    return slot->old->value.root - slot->old->tonic;
}

/* The slot in which the chord before that of a slot ends; itself when there is none. */
static struct muta_harmonised_slot *slot_before(const struct muta_harmonising *work,
                                                struct muta_harmonised_slot *slot)
{
    struct muta_harmonised_slot *before = slot;

    while (before > work->slots.at && before->old == slot->old)
        before--;
    return before;
}

/* Whether a chord is the dominant of another, in whatever key that is a tonic. */
static bool is_dominant_of(const muta_chord *chord, const muta_chord *goal)
{
    return chord->root == goal->root + 1 &&
           (chord->kind == MUTA_CHORD_MAJOR || chord->kind == MUTA_CHORD_DOMINANT);
}

bool muta_harmonising_ends_otherwise(const struct muta_harmonising *work,
                                     const struct muta_harmonised_slot *slot)
{
    return work->cadences != MUTA_CADENCES_KEEP && slot->is_close &&
           slot + 1 < work->slots.at + work->slots.count;
}

/* Whether the dominant of the key goes home, or to the sixth degree instead. */
static bool is_cadence(int32_t dominant, int32_t goal)
{
    enum {
        SIXTH = 3,
        LOWERED_SIXTH = -4
    };

    return dominant == 1 && (goal == 0 || goal == SIXTH || goal == LOWERED_SIXTH);
}

/* The chord on which a phrase has closed stays for as long as it stood. */
static void keep_rest(struct muta_harmonising *work, struct muta_harmonised_slot *slot)
{
    const struct muta_harmonised_slot *const end = work->slots.at + work->slots.count;

    for (struct muta_harmonised_slot *next = slot + 1; next < end && next->old == slot->old; next++)
        next->is_cadence = true;
}

/* A chord stays from where it begins. */
static struct muta_harmonised_slot *keep_whole(struct muta_harmonising *work,
                                               struct muta_harmonised_slot *slot)
{
    slot->is_cadence = true;
    while (slot > work->slots.at && slot[-1].old == slot->old) {
        slot--;
        slot->is_cadence = true;
    }
    return slot;
}

/* So does the dominant before it, the six-four before that and, as long as one does not go far,
 * what prepares it. */
static void keep_approach(struct muta_harmonising *work, const struct muta_harmonised_slot *slot,
                          struct muta_harmonised_slot *dominant)
{
    struct muta_harmonised_slot *const first = keep_whole(work, dominant);
    struct muta_harmonised_slot *const before = first > work->slots.at ? first - 1 : first;
    const bool is_six_four =
        before->old->value.root == slot->old->value.root && before->old->value.bass == 2;

    if (before < first && (work->stray < MUTA_MIDWAY || (work->stray < MUTA_FAR && is_six_four)))
        before->is_cadence = true;
}

/* How a phrase closes stays. */
static void fix_cadences(struct muta_harmonising *work)
{
    for (size_t i = 0; i < work->slots.count; i++) {
        struct muta_harmonised_slot *const slot = &work->slots.at[i];
        struct muta_harmonised_slot *const before = slot_before(work, slot);
        const bool is_led =
            before->old != slot->old && (is_dominant_of(&before->old->value, &slot->old->value) ||
                                         is_cadence(degree_of(before), degree_of(slot)));
        const bool is_plain = degree_of(slot) == 0 || degree_of(slot) == 1 || is_led;
        if (!slot->is_close || slot->is_abroad || muta_harmonising_ends_otherwise(work, slot) ||
            (!is_plain && work->stray >= MUTA_FAR))
            continue;
        if (work->stray < MUTA_FAR)
            keep_rest(work, slot);
        (void)keep_whole(work, slot);
        if (is_led)
            keep_approach(work, slot, before);
    }
}

/* The first slot that begins behind a moment. */
static size_t slot_behind(const struct muta_harmonising *work, muta_fraction time)
{
    size_t low = 0;
    size_t high = work->slots.count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (muta_fraction_compare(work->slots.at[middle].from, time) <= 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* Into which slots the accompaniment is held, and the bass. */
static void hear_held(struct muta_harmonising *work)
{
    for (size_t i = 0; i < work->work.tone_count; i++) {
        const muta_tone *const tone = &work->work.tones[i];
        const muta_event *const event = &work->work.events[tone->event];
        if (tone->is_tune || tone->is_fixed)
            continue;
        for (size_t low = slot_behind(work, event->onset);
             low < work->slots.count &&
             muta_fraction_compare(work->slots.at[low].from, end_of(event)) < 0;
             low++) {
            struct muta_harmonised_slot *const slot = &work->slots.at[low];
            if (tone->is_bass)
                slot->held_bass = (uint8_t)muta_semitones_class(muta_pitch_semitones(tone->pitch));
            slot->is_held = slot->is_held || tone->is_bass;
            slot->held = (uint8_t)(slot->held + (slot->held < UINT8_MAX));
            slot->held_tones |=
                (uint16_t)(1U << muta_semitones_class(muta_pitch_semitones(tone->pitch)));
        }
    }
}

/* By how many steps a line goes from one event to another on top; 0 for a rest between. */
static int32_t steps_between(const struct muta_harmonising *work, uint32_t from, uint32_t to)
{
    if (muta_fraction_compare(end_of(&work->work.events[from]), work->work.events[to].onset) < 0)
        return 0;
    return muta_texture_top(&work->work, to)->pitch.place -
           muta_texture_top(&work->work, from)->pitch.place;
}

/* Whether a line goes through an event by step, one way. */
static bool runs_through(const struct muta_harmonising *work, const muta_tone *tone)
{
    const muta_line *const line = &work->work.lines[tone->line];
    const uint32_t at = tone->event;

    if (at == line->event || at + 1 >= line->event + line->event_count)
        return false;
    const int32_t before = steps_between(work, at - 1, at);
    const int32_t behind = steps_between(work, at, at + 1);
    return before == behind && (before == 1 || before == -1);
}

/* Whether the tune begins the same tone at a moment, in whatever octave. */
static bool doubles_tune(const struct muta_harmonising *work,
                         const struct muta_harmonised_slot *slot, muta_fraction time, int semitones)
{
    for (size_t i = slot->note; i < slot->note_end; i++)
        if (muta_fraction_compare(work->tune.at[i].onset, time) == 0 &&
            muta_semitones_class(work->tune.at[i].semitones - semitones) == 0)
            return true;
    return false;
}

/* How far what accompanies is a plain figure of its chord, in each slot. */
static void hear_figures(struct muta_harmonising *work)
{
    for (size_t i = 0; i < work->work.tone_count; i++) {
        const muta_tone *const tone = &work->work.tones[i];
        const muta_event *const event = &work->work.events[tone->event];
        const size_t behind = slot_behind(work, event->onset);
        if (tone->is_tune || tone->is_fixed || event->is_grace || behind == 0)
            continue;
        struct muta_harmonised_slot *const slot = &work->slots.at[behind - 1];
        const int semitones = muta_pitch_semitones(tone->pitch);
        slot->struck = (uint16_t)(slot->struck + (slot->struck < UINT16_MAX));
        if (!muta_passage_chord_has(slot->old, tone->pitch) || runs_through(work, tone) ||
            tone->is_companion || doubles_tune(work, slot, event->onset, semitones))
            slot->drawn = (uint16_t)(slot->drawn + (slot->drawn < UINT16_MAX));
    }
    for (size_t i = 0; i < work->slots.count; i++) {
        struct muta_harmonised_slot *const slot = &work->slots.at[i];
        muta_beat beat;
        muta_passage_beat_at(work->call->in, slot->from, &beat);
        slot->is_short =
            muta_fraction_compare(muta_fraction_subtract(slot->to, slot->from), beat.beat) < 0;
    }
}

/* Whether a tone wants to go on by step from a chord: it is foreign, a seventh, or leads. */
static bool is_tense(const muta_passage_chord *chord, muta_pitch pitch)
{
    const int above =
        muta_semitones_class(muta_pitch_semitones(pitch) - muta_fifths_class(chord->value.root));

    return !muta_passage_chord_has(chord, pitch) ||
           (muta_chord_has_seventh(chord->value.kind) &&
            muta_chord_tone(chord->value.kind, above) == 3) ||
           muta_pitch_fifths(pitch) ==
               muta_chord_leading(chord->value.kind, chord->value.root, chord->tonic);
}

/* What a tense tone of the accompaniment, the last of its line in a slot, goes to by step when the
 * next begins. */
static void hear_due(struct muta_harmonising *work)
{
    for (size_t i = 0; i + 1 < work->work.event_count; i++) {
        const muta_event *const event = &work->work.events[i];
        const muta_event *const next = event + 1;
        if (event->tone_count == 0 || next->tone_count == 0)
            continue;
        const muta_tone *const tone = muta_texture_top(&work->work, (uint32_t)i);
        const muta_tone *const to = muta_texture_top(&work->work, (uint32_t)i + 1);
        const size_t behind = slot_behind(work, event->onset);
        if (tone->is_tune || tone->is_fixed || event->is_grace || tone->line != to->line ||
            behind == 0 || behind == work->slots.count ||
            abs((int)(to->pitch.place - tone->pitch.place)) != 1 ||
            muta_fraction_compare(end_of(event), next->onset) != 0 ||
            muta_fraction_compare(next->onset, work->slots.at[behind].from) < 0)
            continue;
        struct muta_harmonised_slot *const slot = &work->slots.at[behind - 1];
        if (is_tense(slot->old, tone->pitch) &&
            muta_passage_chord_has(work->slots.at[behind].old, to->pitch))
            slot->due |= (uint16_t)(1U << muta_semitones_class(muta_pitch_semitones(to->pitch)));
    }
}

/* The lowest tone of the accompaniment that sounds as each slot begins, in semitones; 0 for none.
 */
static void hear_lowest(const struct muta_harmonising *work, int *lowest)
{
    for (size_t i = 0; i < work->work.tone_count; i++) {
        const muta_tone *const tone = &work->work.tones[i];
        const muta_event *const event = &work->work.events[tone->event];
        const int semitones = muta_pitch_semitones(tone->pitch);
        if (tone->is_tune || tone->is_fixed || event->is_grace)
            continue;
        for (size_t slot = slot_behind(work, event->onset); slot > 0 && slot <= work->slots.count;
             slot++) {
            const size_t at = slot - 1;
            if (muta_fraction_compare(work->slots.at[at].from, end_of(event)) >= 0)
                break;
            if (muta_fraction_compare(work->slots.at[at].from, event->onset) >= 0 &&
                (lowest[at] == 0 || semitones < lowest[at]))
                lowest[at] = semitones;
        }
    }
}

/* A run of slots over one bass tone is a pedal where other chords come and go over it. */
static void name_pedal(struct muta_harmonising *work, size_t first, size_t end, int lowest)
{
    enum {
        A_WHILE = 3 /* slots */
    };
    const int32_t root = work->slots.at[first].old->value.root;
    bool changes = false;

    for (size_t i = first; i < end; i++)
        changes = changes || work->slots.at[i].old->value.root != root;
    for (size_t i = first; changes && lowest && end - first >= A_WHILE && i < end; i++)
        work->slots.at[i].pedal = (int16_t)muta_semitones_class(lowest);
}

static muta_status hear_pedals(struct muta_harmonising *work)
{
    const size_t count = work->slots.count;
    int *const lowest = muta_arena_take_array(&work->arena, count + 1, sizeof *lowest);
    size_t first = 0;

    if (!lowest)
        return MUTA_E_MEMORY;
    memset(lowest, 0, (count + 1) * sizeof *lowest);
    hear_lowest(work, lowest);
    for (size_t i = 1; i <= count; i++)
        if (i == count || muta_semitones_class(lowest[i]) != muta_semitones_class(lowest[first])) {
            name_pedal(work, first, i, lowest[first]);
            first = i;
        }
    return MUTA_OK;
}

/* The chord on which the tune enters behind a rest stays, as the first does. */
static void fix_entries(struct muta_harmonising *work)
{
    bool was_silent = true;

    for (size_t i = 0; i < work->slots.count; i++) {
        struct muta_harmonised_slot *const slot = &work->slots.at[i];
        const bool is_silent = slot->note == slot->note_end;
        if (was_silent && !is_silent && !slot->is_abroad && work->stray < MUTA_FAR)
            slot->is_fixed = true;
        was_silent = is_silent;
    }
}

muta_status muta_harmonising_hear(struct muta_harmonising *work)
{
    hear_tune(work);
    if (work->alone)
        return MUTA_OK;
    hear_held(work);
    hear_figures(work);
    hear_due(work);
    fix_entries(work);
    MUTA_TRY(hear_pedals(work));
    fix_cadences(work);
    return MUTA_OK;
}

/* Where the last phrase begins: behind the end of the one before, or halfway. */
static muta_fraction last_phrase(const struct muta_harmonising *work)
{
    for (size_t i = work->tune.count - 1; i > 0; i--)
        if (work->tune.at[i - 1].closes)
            return work->tune.at[i].onset;
    return muta_fraction_divide(muta_passage_length(work->call->in), muta_fraction_of(2, 1));
}

/* Whether the last tone of the tune is one of the tonic chord of a key. */
static bool ends_in(const struct muta_harmonising *work, muta_key key)
{
    const int above = muta_semitones_class(work->tune.at[work->tune.count - 1].semitones -
                                           muta_pitch_semitones(muta_key_tonic(key)));

    return above == 0 || above == 7 || above == (muta_mode_is_minor(key.mode) ? 3 : 4);
}

muta_status muta_harmonising_go_abroad(struct muta_harmonising *work)
{
    const muta_fraction from = last_phrase(work);
    muta_passage_chord *const heard =
        muta_arena_take_array(&work->arena, work->slots.count, sizeof *heard);
    bool is_first = true;

    if (!heard)
        return MUTA_E_MEMORY;
    if (!ends_in(work, work->modulate.key)) {
        char key[MUTA_KEY_TEXT];
        muta_diag_add(work->call->diags, MUTA_WARNING, MUTA_NOWHERE,
                      "the tune ends on no tone of the tonic chord of %s: the last phrase stays in "
                      "its key",
                      muta_key_print(work->modulate.key, key));
        return MUTA_OK;
    }
    for (size_t i = 0; i < work->slots.count; i++) {
        struct muta_harmonised_slot *const slot = &work->slots.at[i];
        if (muta_fraction_compare(slot->from, from) < 0)
            continue;
        heard[i] = *slot->old;
        heard[i].tonic = muta_pitch_fifths(muta_key_tonic(work->modulate.key));
        heard[i].is_minor = muta_mode_is_minor(work->modulate.key.mode);
        slot->old = &heard[i];
        slot->is_abroad = true;
        slot->is_pivot = is_first;
        is_first = false;
    }
    for (size_t i = 0; i < work->slots.count; i++)
        work->slots.at[i].is_fixed = false;
    muta_harmonising_fix_ends(work);
    return MUTA_OK;
}
