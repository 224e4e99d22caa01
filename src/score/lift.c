/*
 * lift.c: from written notes to what is meant. Tied notes become one tone, a voice becomes a line
 * (two, where it overlaps itself), and the pitch is the one that sounds.
 */
#include "score/texture.h"
#include <stdlib.h>
#include <string.h>

struct lift {
    const muta_score *score;
    const muta_region *region;
    muta_passage *passage;
    const muta_part *part;
    uint32_t part_index;
    const muta_range **reached; /* by note of the part: the address that reaches it, or NULL */
};

static muta_moment moment_of(const muta_note *note)
{
    return (muta_moment){note->bar, note->staff, note->onset};
}

/* The part's note begins in the stretch of the passage, or sounds into it. */
static bool in_stretch(const struct lift *lift, const muta_note *note)
{
    const muta_moment from = lift->region->from;

    if (muta_moment_compare(moment_of(note), lift->region->to) >= 0)
        return false;
    if (muta_moment_compare(from, moment_of(note)) <= 0)
        return true;
    return note->bar == from.bar && note->duration.top > 0 &&
           muta_fraction_compare(muta_fraction_add(note->onset, note->duration), from.onset) > 0;
}

static muta_fraction time_of(const struct lift *lift, muta_moment at)
{
    return muta_fraction_add(muta_part_bar_start(lift->score, lift->part, at.bar), at.onset);
}

static muta_fraction start_of(const struct lift *lift)
{
    return time_of(lift, lift->region->from);
}

/* The moments between which a note is lifted: its address's, or for the context the passage's. */
static muta_moment first_moment(const struct lift *lift, uint32_t index)
{
    return lift->reached[index] ? lift->reached[index]->from : lift->region->from;
}

static muta_moment last_moment(const struct lift *lift, uint32_t index)
{
    return lift->reached[index] ? lift->reached[index]->to : lift->region->to;
}

/* Where a note begins, and what lasts of it, within what is lifted. */
static void clip(const struct lift *lift, uint32_t index, muta_fraction *onset,
                 muta_fraction *duration)
{
    const muta_note *const note = &lift->part->notes.at[index];
    const muta_fraction begins = time_of(lift, moment_of(note));
    const muta_fraction ends = muta_fraction_add(begins, note->duration);
    const muta_moment to = last_moment(lift, index);
    const muta_fraction from = muta_fraction_max(begins, time_of(lift, first_moment(lift, index)));

    *onset = muta_fraction_subtract(from, start_of(lift));
    *duration = muta_fraction_subtract(ends, from);
    if (to.bar == note->bar && muta_fraction_compare(ends, time_of(lift, to)) > 0)
        *duration = muta_fraction_subtract(time_of(lift, to), from);
}

/* Whether a repeat or a jump has an edge between two bars: a tone does not sound across it. */
static bool is_edge(const muta_score *score, uint32_t before, uint32_t after)
{
    return before != after && (score->bars[before].closes || score->bars[after].opens);
}

/* The notes on one stem. */
struct chord {
    uint32_t first;
    uint32_t end;
};

static struct chord chord_of(const muta_part *part, uint32_t index)
{
    const muta_note *const notes = part->notes.at;
    const uint32_t grace = notes[index].flags & MUTA_NOTE_GRACE;
    struct chord chord = {index, index + 1};

    while (chord.first > 0 && (notes[chord.first].flags & MUTA_NOTE_CHORD) &&
           (notes[chord.first - 1].flags & MUTA_NOTE_GRACE) == grace)
        chord.first--;
    while (chord.end < part->notes.count && (notes[chord.end].flags & MUTA_NOTE_CHORD) &&
           (notes[chord.end].flags & MUTA_NOTE_GRACE) == grace)
        chord.end++;
    return chord;
}

static bool holds(struct chord chord, uint32_t note)
{
    return chord.first <= note && note < chord.end;
}

/* Whether every note of two chords is tied to one of the other. */
static bool are_tied_whole(const muta_part *part, uint32_t from, uint32_t to)
{
    const struct chord one = chord_of(part, from);
    const struct chord two = chord_of(part, to);

    for (uint32_t i = one.first; i < one.end; i++)
        if (!holds(two, part->notes.at[i].tied_to))
            return false;
    for (uint32_t i = two.first; i < two.end; i++)
        if (!holds(one, part->notes.at[i].tied_from))
            return false;
    return true;
}

/* Whether a note begins where another ends: some are tied over a gap. */
static bool sounds_on(const struct lift *lift, const muta_note *from, const muta_note *to)
{
    return muta_fraction_compare(muta_fraction_add(time_of(lift, moment_of(from)), from->duration),
                                 time_of(lift, moment_of(to))) == 0;
}

/*
 * Whether the note goes on a tone that is in the same weave already. Where only some of a chord are
 * held, each chord stays an event, so that it keeps its notes; what is held is tied again.
 */
static bool is_continuation(const struct lift *lift, uint32_t index)
{
    const muta_note *const note = &lift->part->notes.at[index];

    return note->tied_from != MUTA_NO_NOTE &&
           in_stretch(lift, &lift->part->notes.at[note->tied_from]) &&
           lift->reached[note->tied_from] == lift->reached[index] &&
           !(lift->part->notes.at[note->tied_from].flags & MUTA_NOTE_GRACE) &&
           sounds_on(lift, &lift->part->notes.at[note->tied_from], note) &&
           are_tied_whole(lift->part, note->tied_from, index) &&
           !is_edge(lift->score, lift->part->notes.at[note->tied_from].bar, note->bar);
}

static muta_status add_tone(struct lift *lift, muta_weave *weave, uint32_t index)
{
    const muta_note *note = &lift->part->notes.at[index];
    const muta_interval transposition = muta_part_transposition_at(lift->part, moment_of(note));
    muta_event *const event = &weave->events.at[weave->events.count - 1];
    muta_tone *tone = MUTA_PUSH(&lift->passage->arena, &weave->tones);
    muta_fraction onset;
    muta_fraction lasts;

    if (!tone)
        return MUTA_E_MEMORY;
    *tone = (muta_tone){
        .pitch = note->pitch,
        .id = ++lift->passage->next_id,
        .source = index,
        .source_count = 1,
        .is_fixed = note->flags & MUTA_NOTE_FIXED,
    };
    tone->origin = tone->id;
    clip(lift, index, &onset, &tone->duration);
    if (!tone->is_fixed)
        tone->pitch = muta_pitch_add(note->pitch, transposition);
    while (note->tied_to != MUTA_NO_NOTE && is_continuation(lift, note->tied_to)) {
        clip(lift, note->tied_to, &onset, &lasts);
        note = &lift->part->notes.at[note->tied_to];
        tone->duration = muta_fraction_add(tone->duration, lasts);
        tone->source_count++;
    }
    event->tone_count++;
    event->duration = muta_fraction_max(event->duration, tone->duration);
    /* Tones rise; those that sound alike stay in the order of the file. */
    muta_tone *const first = &weave->tones.at[event->tone];
    const muta_tone added = *tone;
    for (; tone > first && muta_pitch_sound(tone[-1].pitch) > muta_pitch_sound(added.pitch); tone--)
        *tone = tone[-1];
    *tone = added;
    return MUTA_OK;
}

/* A grace note belongs to the next note of its voice and bar; with none, to the one before. */
static bool comes_after(const struct lift *lift, const uint32_t *notes, size_t count, size_t nth)
{
    const muta_note *const grace = &lift->part->notes.at[notes[nth]];

    for (size_t i = nth + 1; i < count; i++) {
        const muta_note *const note = &lift->part->notes.at[notes[i]];
        if (note->bar != grace->bar || muta_fraction_compare(note->onset, grace->onset) != 0)
            return true;
        if (!(note->flags & (MUTA_NOTE_GRACE | MUTA_NOTE_REST)))
            return false;
    }
    return true;
}

static muta_status add_event(struct lift *lift, muta_weave *weave, const uint32_t *notes,
                             size_t count, size_t nth)
{
    const muta_note *const note = &lift->part->notes.at[notes[nth]];
    muta_event *const event = MUTA_PUSH(&lift->passage->arena, &weave->events);
    muta_fraction lasts;

    if (!event)
        return MUTA_E_MEMORY;
    *event = (muta_event){
        .duration = MUTA_ZERO,
        .tone = (uint32_t)weave->tones.count,
        .written.source = notes[nth],
        .written.syllable = MUTA_NO_SOURCE,
        .written.joined = MUTA_NO_SOURCE,
        .staff = note->staff,
        .is_grace = note->flags & MUTA_NOTE_GRACE,
        .is_cue = note->flags & MUTA_NOTE_CUE,
        .is_hidden = note->flags & MUTA_NOTE_HIDDEN,
    };
    event->is_after = event->is_grace && comes_after(lift, notes, count, nth);
    clip(lift, notes[nth], &event->onset, &lasts);
    /* Cut off from its attack, a tone goes on with the syllable that stands there. */
    if ((note->flags & MUTA_NOTE_LYRIC) &&
        muta_fraction_compare(time_of(lift, first_moment(lift, notes[nth])),
                              time_of(lift, moment_of(note))) <= 0)
        event->written.syllable = notes[nth];
    return MUTA_OK;
}

/* In order of onset; equal ones stay in the order of the file. */
static void sort_events(muta_event *events, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        const muta_event event = events[i];
        size_t to = i;
        while (to > 0 && muta_fraction_compare(events[to - 1].onset, event.onset) > 0) {
            events[to] = events[to - 1];
            to--;
        }
        events[to] = event;
    }
}

/* Moves the events that begin before the one before them has ended behind the others. */
static size_t part_overlaps(muta_event *events, size_t count, muta_event *held)
{
    muta_fraction end = MUTA_ZERO;
    size_t kept = 0;
    size_t parted = 0;

    for (size_t i = 0; i < count; i++) {
        if (muta_fraction_compare(events[i].onset, end) < 0) {
            held[parted++] = events[i];
            continue;
        }
        end = muta_fraction_add(events[i].onset, events[i].duration);
        events[kept++] = events[i];
    }
    for (size_t i = 0; i < parted; i++)
        events[kept + i] = held[i];
    return kept;
}

static muta_status add_line(struct lift *lift, muta_weave *weave, uint32_t voice, size_t first,
                            size_t count, uint8_t layer)
{
    muta_line *const line = MUTA_PUSH(&lift->passage->arena, &weave->lines);

    if (!line)
        return MUTA_E_MEMORY;
    *line = (muta_line){
        .part = lift->part_index,
        .voice = voice,
        .event = (uint32_t)first,
        .event_count = (uint32_t)count,
        .staff = lift->part->voices.at[voice].home,
        .layer = layer,
    };
    for (size_t i = first; i < first + count; i++)
        for (uint32_t j = 0; j < weave->events.at[i].tone_count; j++) {
            muta_tone *const tone = &weave->tones.at[weave->events.at[i].tone + j];
            tone->line = (uint32_t)weave->lines.count - 1;
            tone->event = (uint32_t)i;
        }
    return MUTA_OK;
}

/* Makes lines of the events from `first` on: as many as it takes for none to overlap. */
static muta_status close_lines(struct lift *lift, muta_weave *weave, uint32_t voice, size_t first)
{
    size_t count = weave->events.count - first;
    muta_event *held = NULL;

    if (count == 0)
        return MUTA_OK;
    sort_events(&weave->events.at[first], count);
    held = malloc(count * sizeof *held);
    if (!held)
        return MUTA_E_MEMORY;
    muta_status status = MUTA_OK;
    for (uint8_t layer = 0; status == MUTA_OK && count > 0; layer = (uint8_t)(layer + 1)) {
        const size_t kept = part_overlaps(&weave->events.at[first], count, held);
        status = add_line(lift, weave, voice, first, kept, layer);
        first += kept;
        count -= kept;
    }
    free(held);
    return status;
}

/* Lifts one voice, into the work or into the context. */
static muta_status lift_voice(struct lift *lift, muta_weave *weave, uint32_t voice,
                              const uint32_t *notes, size_t count, bool inside)
{
    const size_t first = weave->events.count;
    bool open = false; /* the last event is the chord that a chord member belongs to */

    for (size_t i = 0; i < count; i++) {
        const muta_note *const note = &lift->part->notes.at[notes[i]];
        /* A chord may not hang on a grace note that it is not part of. */
        if (!(note->flags & MUTA_NOTE_CHORD) ||
            (i > 0 && ((note->flags ^ lift->part->notes.at[notes[i - 1]].flags) & MUTA_NOTE_GRACE)))
            open = false;
        if ((note->flags & MUTA_NOTE_REST) || (lift->reached[notes[i]] != NULL) != inside ||
            is_continuation(lift, notes[i]))
            continue;
        if (!open)
            MUTA_TRY(add_event(lift, weave, notes, count, i));
        open = true;
        MUTA_TRY(add_tone(lift, weave, notes[i]));
    }
    return close_lines(lift, weave, voice, first);
}

/* The notes of the stretch, voice by voice, in the order of the file. */
static muta_status lift_part(struct lift *lift)
{
    const muta_part *const part = lift->part;
    const size_t note_count = part->notes.count;
    size_t *const starts = calloc(part->voices.count + 2, sizeof *starts);
    uint32_t *const order = malloc((note_count + 1) * sizeof *order);
    muta_status status = starts && order ? MUTA_OK : MUTA_E_MEMORY;

    for (size_t i = 0; status == MUTA_OK && i < note_count; i++)
        starts[part->notes.at[i].voice + 2] += in_stretch(lift, &part->notes.at[i]);
    for (size_t i = 2; status == MUTA_OK && i < part->voices.count + 2; i++)
        starts[i] += starts[i - 1];
    for (size_t i = 0; status == MUTA_OK && i < note_count; i++)
        if (in_stretch(lift, &part->notes.at[i]))
            order[starts[part->notes.at[i].voice + 1]++] = (uint32_t)i;
    for (uint32_t voice = 0; status == MUTA_OK && voice < part->voices.count; voice++) {
        const size_t count = starts[voice + 1] - starts[voice];
        const uint32_t *const notes = order + starts[voice];
        status = lift_voice(lift, &lift->passage->work, voice, notes, count, true);
        if (status == MUTA_OK)
            status = lift_voice(lift, &lift->passage->own_context, voice, notes, count, false);
    }
    free(starts);
    free(order);
    return status;
}

/* Room for everything at once, so that no growing leaves old copies behind. */
static muta_status reserve(struct lift *lift)
{
    size_t work = 0;
    size_t context = 0;
    muta_passage *const passage = lift->passage;

    for (uint32_t i = 0; i < lift->score->part_count; i++) {
        const muta_part *const part = &lift->score->parts[i];
        for (size_t j = 0; j < part->notes.count; j++) {
            const muta_note *const note = &part->notes.at[j];
            if ((note->flags & MUTA_NOTE_REST) || !in_stretch(lift, note))
                continue;
            if (muta_region_reaches(lift->region, i, note))
                work++;
            else
                context++;
        }
    }
    return MUTA_RESERVE(&passage->arena, &passage->work.events, work) &&
                   MUTA_RESERVE(&passage->arena, &passage->work.tones, work) &&
                   MUTA_RESERVE(&passage->arena, &passage->own_context.events, context) &&
                   MUTA_RESERVE(&passage->arena, &passage->own_context.tones, context)
               ? MUTA_OK
               : MUTA_E_MEMORY;
}

/* A pass never guesses: bars whose times are no numbers are refused where they would be touched. */
static muta_status check_bars(const struct lift *lift, uint32_t part_index, muta_diags *diags)
{
    static const char *const why[] = {
        [MUTA_BAR_SURE] = "",
        [MUTA_BAR_DIVISIONS] = "divisions are 0 or no number; give them a number above 0",
        [MUTA_BAR_DURATION] = "a duration is negative or no number; give it a number from 0",
        [MUTA_BAR_LENGTH] = "the bar is longer than 1,000 quarters; cut it into bars",
    };
    const muta_part *const part = &lift->score->parts[part_index];

    for (uint32_t bar = lift->region->from.bar; bar < part->bar_count; bar++) {
        const muta_part_bar *const of = &part->bars[bar];
        const muta_moment at = {bar, MUTA_ALL_STAVES, MUTA_ZERO};
        if (muta_moment_compare(at, lift->region->to) >= 0)
            break;
        if (of->doubt == MUTA_BAR_SURE)
            continue;
        for (uint32_t i = of->first; i < of->first + of->count; i++) {
            if (!muta_region_reaches(lift->region, part_index, &part->notes.at[i]))
                continue;
            muta_diag_add(diags, MUTA_ERROR, muta_score_place(lift->score, part, at), "%s",
                          why[of->doubt]);
            return MUTA_E_DATA;
        }
    }
    return MUTA_OK;
}

static muta_status mark_reached(struct lift *lift)
{
    lift->reached = calloc(lift->part->notes.count + 1, sizeof(muta_range *));
    if (!lift->reached)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < lift->part->notes.count; i++)
        lift->reached[i] =
            muta_region_reaches(lift->region, lift->part_index, &lift->part->notes.at[i]);
    return MUTA_OK;
}

/* Of two notes that end together the lower one is the bass; a later end counts more. */
static void consider_bass(const muta_part *part, const muta_note *note, muta_fraction *latest,
                          muta_pitch *bass)
{
    const muta_moment at = {note->bar, note->staff, note->onset};
    const muta_fraction end = muta_fraction_add(note->onset, note->duration);
    const int later = muta_fraction_compare(end, *latest);
    const muta_pitch sound = muta_pitch_add(note->pitch, muta_part_transposition_at(part, at));

    if (end.top == 0 || later < 0 ||
        (later == 0 && muta_pitch_sound(sound) >= muta_pitch_sound(*bass)))
        return;
    *latest = end;
    *bass = sound;
}

/* The last bass note before a moment; false when nothing with pitch sounds before. */
static bool last_bass(const muta_score *score, muta_moment from, muta_moment to, muta_pitch *bass)
{
    muta_fraction latest = MUTA_ZERO;

    for (uint32_t bar = to.onset.top ? to.bar : to.bar - 1; bar + 1 > from.bar; bar--) {
        for (size_t i = 0; i < score->part_count; i++) {
            const muta_part *const part = &score->parts[i];
            if (bar >= part->bar_count)
                continue;
            for (uint32_t j = part->bars[bar].first;
                 j < part->bars[bar].first + part->bars[bar].count; j++) {
                const muta_note *const note = &part->notes.at[j];
                const muta_moment at = {note->bar, note->staff, note->onset};
                if (!(note->flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED | MUTA_NOTE_GRACE)) &&
                    muta_moment_compare(at, to) < 0)
                    consider_bass(part, note, &latest, bass);
            }
        }
        if (latest.top > 0)
            return true;
        if (bar == 0)
            break;
    }
    return false;
}

/*
 * Real scores seldom say the mode: then, until somebody listens, a signature is the minor if the
 * last bass note under it is the tonic of its relative minor.
 */
static muta_mode mode_of(const muta_score *score, const muta_key_change *change, muta_moment end)
{
    muta_pitch bass;
    const muta_key minor = {change->key.fifths, MUTA_MINOR};
    const muta_pitch tonic = muta_key_tonic(minor);

    if (change->has_mode)
        return change->key.mode;
    if (!last_bass(score, change->at, end, &bass))
        return MUTA_MAJOR;
    return muta_pitch_step(bass) == muta_pitch_step(tonic) && bass.alter == tonic.alter
               ? MUTA_MINOR
               : MUTA_MAJOR;
}

/* The key track: what is in force at the start, and each change inside. */
static muta_status lift_keys(struct lift *lift)
{
    const muta_part *const part = lift->part;
    const muta_moment score_end = {(uint32_t)lift->score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO};

    for (size_t i = 0; i < part->keys.count; i++) {
        const muta_key_change *const change = &part->keys.at[i];
        muta_moment start = lift->region->from;
        start.staff = change->at.staff;
        const bool before = muta_moment_compare(change->at, start) <= 0;
        if ((before && muta_part_key_at(part, start) != change) ||
            (!before && muta_moment_compare(change->at, lift->region->to) >= 0))
            continue;
        muta_passage_key_entry *const entry =
            MUTA_PUSH(&lift->passage->arena, &lift->passage->keys);
        if (!entry)
            return MUTA_E_MEMORY;
        const muta_moment end = i + 1 < part->keys.count ? part->keys.at[i + 1].at : score_end;
        const muta_interval transposition = muta_part_transposition_at(part, change->at);
        entry->part = lift->part_index;
        entry->staff = change->at.staff;
        entry->onset = MUTA_ZERO;
        if (!before)
            entry->onset = muta_fraction_subtract(
                muta_fraction_add(muta_part_bar_start(lift->score, part, change->at.bar),
                                  change->at.onset),
                start_of(lift));
        entry->key.mode = mode_of(lift->score, change, end);
        entry->is_mode_told = change->has_mode;
        entry->key.fifths = change->key.fifths + muta_interval_fifths(transposition);
    }
    return MUTA_OK;
}

/* A part that has tones at all, not only percussion and rests. */
static bool is_pitched(const muta_part *part)
{
    for (size_t i = 0; i < part->notes.count; i++)
        if (!(part->notes.at[i].flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED)))
            return true;
    return false;
}

/* Whether the region reaches the part and leaves no tone of it in the stretch outside. */
static bool covers(const struct lift *lift, uint32_t part)
{
    const muta_weave *const context = &lift->passage->own_context;
    bool reached = false;

    for (size_t i = 0; i < lift->region->ranges.count; i++)
        reached = reached || lift->region->ranges.at[i].part == part;
    for (size_t i = 0; i < context->tones.count && reached; i++)
        reached = context->tones.at[i].is_fixed ||
                  context->lines.at[context->tones.at[i].line].part != part;
    return reached;
}

static void measure(struct lift *lift)
{
    const muta_moment to = lift->region->to;
    const muta_score *const score = lift->score;
    muta_passage *const passage = lift->passage;

    lift->part = &score->parts[lift->region->ranges.at[0].part];
    const muta_bar *const last = &score->bars[score->bar_count - 1];
    const muta_fraction end =
        to.bar < score->bar_count
            ? muta_fraction_add(muta_part_bar_start(score, lift->part, to.bar), to.onset)
            : muta_fraction_add(last->start, last->length);
    passage->length = muta_fraction_subtract(end, start_of(lift));
    passage->is_whole_bars = passage->from.onset.top == 0 && to.onset.top == 0;
    passage->is_whole_parts = true;
    for (size_t i = 0; i < lift->region->ranges.count; i++)
        passage->is_whole_parts =
            passage->is_whole_parts && covers(lift, lift->region->ranges.at[i].part);
    passage->is_everything = passage->is_whole_bars;
    for (uint32_t i = 0; i < score->part_count; i++)
        passage->is_everything =
            passage->is_everything && (!is_pitched(&score->parts[i]) || covers(lift, i));
}

/* Divides the passage where repeats, endings and jumps have an edge inside it. */
static muta_status divide(struct lift *lift)
{
    muta_passage *const passage = lift->passage;
    muta_moment from = passage->from;

    while (muta_moment_compare(from, passage->to) < 0) {
        muta_moment to = {from.bar + 1, MUTA_ALL_STAVES, MUTA_ZERO};
        while (muta_moment_compare(to, passage->to) < 0 &&
               !is_edge(lift->score, to.bar - 1, to.bar))
            to.bar++;
        if (muta_moment_compare(to, passage->to) > 0)
            to = passage->to;
        muta_stretch *const stretch = MUTA_PUSH(&passage->arena, &passage->stretches);
        muta_statement *const statement = MUTA_PUSH(&passage->arena, &passage->map);
        if (!stretch || !statement)
            return MUTA_E_MEMORY;
        const muta_fraction onset = muta_fraction_subtract(time_of(lift, from), start_of(lift));
        const muta_fraction end = to.bar < lift->score->bar_count
                                      ? muta_fraction_subtract(time_of(lift, to), start_of(lift))
                                      : passage->length;
        *stretch = (muta_stretch){from, to, onset, muta_fraction_subtract(end, onset)};
        *statement = (muta_statement){
            .from = onset, .to = end, .at = onset, .scale = muta_fraction_of(1, 1)};
        from = to;
    }
    return MUTA_OK;
}

/* Each event belongs to the statement of its stretch. */
static void assign(const muta_passage *passage, muta_weave *weave)
{
    for (size_t i = 0; i < weave->lines.count; i++) {
        uint32_t nth = 0;
        for (uint32_t j = 0; j < weave->lines.at[i].event_count; j++) {
            muta_event *const event = &weave->events.at[weave->lines.at[i].event + j];
            while (nth + 1 < passage->map.count &&
                   muta_fraction_compare(passage->map.at[nth + 1].from, event->onset) <= 0)
                nth++;
            event->written.statement =
                nth - (nth > 0 && event->is_after &&
                       muta_fraction_compare(passage->map.at[nth].from, event->onset) == 0);
        }
    }
}

static muta_status lift_all(struct lift *lift, muta_diags *diags)
{
    for (uint32_t i = 0; i < lift->score->part_count; i++)
        MUTA_TRY(check_bars(lift, i, diags));
    MUTA_TRY(reserve(lift));
    for (uint32_t i = 0; i < lift->score->part_count; i++) {
        lift->part = &lift->score->parts[i];
        lift->part_index = i;
        MUTA_TRY(mark_reached(lift));
        const muta_status status = lift_part(lift);
        free(lift->reached);
        lift->reached = NULL;
        MUTA_TRY(status);
        MUTA_TRY(lift_keys(lift));
    }
    measure(lift);
    MUTA_TRY(divide(lift));
    assign(lift->passage, &lift->passage->work);
    return muta_passage_lay_grid(lift->passage);
}

muta_status muta_passage_lift(const muta_score *score, const muta_region *region,
                              muta_passage **passage, muta_diags *diags)
{
    struct lift lift = {.score = score, .region = region};

    lift.passage = calloc(1, sizeof *lift.passage);
    if (!lift.passage)
        return MUTA_E_MEMORY;
    lift.passage->score = score;
    lift.passage->from = region->from;
    lift.passage->to = region->to;
    lift.passage->context = &lift.passage->own_context;
    lift.passage->first = &lift.passage->work;
    lift.passage->made_part = MUTA_NO_PART;
    lift.passage->slower = lift.passage->faster = muta_fraction_of(1, 1);
    const muta_status status = lift_all(&lift, diags);
    if (status != MUTA_OK) {
        muta_passage_free(lift.passage);
        return status;
    }
    *passage = lift.passage;
    return MUTA_OK;
}
