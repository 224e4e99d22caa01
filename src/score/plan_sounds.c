/* plan_sounds.c: what becomes of each written note, and what sounds in each bar, voice by voice. */
#include "score/plan_make.h"
#include <stdlib.h>
#include <string.h>

/* The note's time as it was lifted: cut at the edges of its passage. */
static void lifted_time(const muta_passage *passage, const muta_note *note, muta_fraction *onset,
                        muta_fraction *end)
{
    *onset = note->onset;
    *end = muta_fraction_add(note->onset, note->duration);
    if (note->bar == passage->from.bar)
        *onset = muta_fraction_max(*onset, passage->from.onset);
    if (note->bar == passage->to.bar && muta_fraction_compare(*end, passage->to.onset) > 0)
        *end = passage->to.onset;
}

/* Whether a tone still lasts as long as its written notes. */
static bool keeps_length(const muta_passage *passage, const muta_part *part, const muta_tone *tone)
{
    muta_fraction total = MUTA_ZERO;
    uint32_t note = tone->source;

    for (uint32_t i = 0; i < tone->source_count && note != MUTA_NO_NOTE; i++) {
        muta_fraction onset;
        muta_fraction end;
        lifted_time(passage, &part->notes.at[note], &onset, &end);
        total = muta_fraction_add(total, muta_fraction_subtract(end, onset));
        note = part->notes.at[note].tied_to;
    }
    return muta_fraction_compare(total, tone->duration) == 0;
}

/* What stood behind the passage's end, inside a bar, moved away from it; NULL when nothing did. */
static const muta_passage *tail_of(const muta_plan *plan, const muta_passage *passage)
{
    for (size_t i = 0; i < plan->count; i++)
        if (plan->given[i]->is_tail && !passage->is_tail &&
            muta_moment_compare(plan->given[i]->from, passage->to) == 0)
            return plan->given[i];
    return NULL;
}

/* A note of which the passage holds only a part. */
static bool is_cut(const muta_passage *passage, const muta_note *note)
{
    muta_fraction onset;
    muta_fraction end;

    lifted_time(passage, note, &onset, &end);
    return muta_fraction_compare(onset, note->onset) != 0 ||
           muta_fraction_compare(end, muta_fraction_add(note->onset, note->duration)) != 0;
}

static bool is_first_statement(const muta_passage *passage, const muta_event *event)
{
    const muta_statement *const of = &passage->map.at[event->written.statement];

    for (size_t i = 0; i < event->written.statement; i++)
        if (muta_fraction_compare(passage->map.at[i].from, of->to) < 0 &&
            muta_fraction_compare(of->from, passage->map.at[i].to) < 0)
            return false;
    return true;
}

/* Whether the words under an event are those that its first note has. */
static bool keeps_words(const muta_passage *passage, const muta_part *part, const muta_event *event)
{
    const muta_note *const head = &part->notes.at[event->written.source];
    muta_fraction onset;
    muta_fraction end;

    lifted_time(passage, head, &onset, &end);
    const bool has_words =
        (head->flags & MUTA_NOTE_LYRIC) && muta_fraction_compare(onset, head->onset) == 0;
    return event->written.joined == MUTA_NO_SOURCE &&
           event->written.syllable == (has_words ? event->written.source : MUTA_NO_SOURCE);
}

/* Where an event begins: a bar of the plan, and the moment in it. */
struct place {
    uint32_t bar;
    muta_fraction onset;
};

static struct place place_of(const muta_plan *plan, const muta_passage *passage, uint32_t part,
                             const muta_event *event)
{
    struct place place;

    muta_plan_place(plan, passage, part, event->onset, event->is_grace && event->is_after,
                    &place.bar, &place.onset);
    return place;
}

/* Whether an event stands where it stood, as long, so that its notes stay but for their pitch. */
static bool keeps_place(const muta_plan *plan, const muta_passage *passage, uint32_t part_index,
                        const muta_event *event, struct place place)
{
    const muta_part *const part = &plan->score->parts[part_index];
    const muta_note *const head =
        event->written.source == MUTA_NO_SOURCE ? NULL : &part->notes.at[event->written.source];
    muta_fraction onset;
    muta_fraction end;

    if (event->written.source == MUTA_NO_SOURCE)
        return false;
    lifted_time(passage, head, &onset, &end);
    if (passage->is_forced || passage->is_remetred || plan->bars.at[place.bar].old != head->bar ||
        muta_fraction_compare(place.onset, onset) != 0 || !is_first_statement(passage, event) ||
        !keeps_words(passage, part, event))
        return false;
    for (uint32_t i = 0; i < event->tone_count; i++) {
        const muta_tone *const tone = &passage->work.tones.at[event->tone + i];
        const muta_note *const note = &part->notes.at[tone->source];
        if (note->bar != head->bar || note->voice != head->voice ||
            muta_fraction_compare(note->onset, head->onset) != 0 ||
            !keeps_length(passage, part, tone) ||
            (is_cut(passage, note) && (tone->is_pitch_changed || tail_of(plan, passage))))
            return false;
    }
    /* With an odd number of turns its marks look the other way. */
    return true;
}

static void set_fate(const muta_part *part, const muta_tone *tone, uint8_t *fates, muta_fate fate,
                     muta_fate others)
{
    uint32_t note = tone->source;

    for (uint32_t i = 0; i < tone->source_count && note != MUTA_NO_NOTE; i++) {
        if (fates[note] != MUTA_KEPT)
            fates[note] = (uint8_t)(i == 0 ? fate : others);
        note = part->notes.at[note].tied_to;
    }
}

static muta_sounding *push(muta_plan *plan, uint32_t part, uint32_t voice)
{
    muta_plan_part *const of = &plan->parts[part];
    muta_sounding *const sounding = MUTA_PUSH(&plan->arena, &of->soundings);

    if (sounding) {
        sounding->voice = voice;
        sounding->note = MUTA_NO_NOTE;
        sounding->order = (uint32_t)of->soundings.count;
    }
    return sounding;
}

/* Divides what an event sounds at the bar lines. */
static muta_status sound_event(muta_plan *plan, const muta_passage *passage, const muta_line *line,
                               uint32_t index, struct place place)
{
    const muta_event *const event = &passage->work.events.at[index];
    muta_fraction left = event->duration;
    muta_fraction onset = place.onset;
    muta_fraction began = place.onset;
    uint32_t bar = place.bar;
    bool begins = true;

    do {
        muta_sounding *const sounding = push(plan, line->part, line->voice);
        if (!sounding)
            return MUTA_E_MEMORY;
        const muta_fraction room = muta_fraction_subtract(plan->bars.at[bar].length, onset);
        const bool fits = muta_fraction_compare(left, room) <= 0 || bar + 1 == plan->bars.count;
        sounding->bar = bar;
        sounding->event = index;
        sounding->passage = passage;
        sounding->from = onset;
        sounding->to = muta_fraction_add(onset, fits ? left : room);
        sounding->onset = began;
        sounding->rank = event->is_grace ? !event->is_after : 2;
        sounding->begins = begins;
        sounding->ends = fits;
        left = fits ? MUTA_ZERO : muta_fraction_subtract(left, room);
        began = muta_fraction_subtract(began, plan->bars.at[bar].length);
        begins = false;
        onset = MUTA_ZERO;
        bar++;
    } while (left.top > 0);
    return MUTA_OK;
}

/* The voice-bars that are written anew. */
static bool *take_marks(muta_plan *plan, const muta_part *part)
{
    return muta_arena_take_array(&plan->arena, plan->bars.count * part->voices.count + 1,
                                 sizeof(bool));
}

muta_status muta_plan_take_fates(muta_plan *plan, uint32_t part)
{
    muta_plan_part *const of = &plan->parts[part];

    if (!of->fates)
        of->fates = muta_arena_take(&plan->arena, plan->score->parts[part].notes.count + 1);
    return of->fates ? MUTA_OK : MUTA_E_MEMORY;
}

/* Tones that no statement took up. */
static void count_removed(muta_plan *plan, const muta_weave *first)
{
    for (size_t i = 0; i < first->tones.count; i++) {
        const uint32_t part = first->lines.at[first->tones.at[i].line].part;
        plan->tones_removed +=
            plan->parts[part].fates[first->tones.at[i].source] == (uint8_t)MUTA_GONE;
    }
}

/* Marks the notes whose words an event bears. */
static void mark_words(const muta_part *part, const muta_event *event, bool *borne)
{
    if (event->written.syllable == MUTA_NO_SOURCE)
        return;
    borne[event->written.syllable] = true;
    for (uint32_t i = event->written.syllable;
         event->written.joined != MUTA_NO_SOURCE && i <= event->written.joined; i++)
        borne[i] =
            borne[i] || part->notes.at[i].voice == part->notes.at[event->written.syllable].voice;
}

/* Syllables of a part that no event bears any more are told. */
muta_status muta_plan_tell_words(muta_plan *plan, const muta_passage *passage, uint32_t index,
                                 muta_diags *diags)
{
    const muta_part *const part = &plan->score->parts[index];
    bool *const borne = muta_arena_take(&plan->arena, part->notes.count + 1);
    uint32_t first = MUTA_NO_SOURCE;
    size_t lost = 0;

    if (!borne)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < passage->work.lines.count; i++) {
        const muta_line *const line = &passage->work.lines.at[i];
        for (uint32_t j = 0; j < line->event_count && line->part == index; j++)
            mark_words(part, &passage->work.events.at[line->event + j], borne);
    }
    for (size_t i = 0; i < passage->first->lines.count; i++) {
        const muta_line *const line = &passage->first->lines.at[i];
        for (uint32_t j = 0; j < line->event_count && line->part == index; j++) {
            const uint32_t words = passage->first->events.at[line->event + j].written.syllable;
            if (words == MUTA_NO_SOURCE || borne[words])
                continue;
            first = words < first ? words : first;
            lost++;
        }
    }
    if (lost > 0) {
        const muta_note *const note = &part->notes.at[first];
        muta_diag_add(
            diags, MUTA_WARNING,
            muta_score_place(plan->score, part, (muta_moment){note->bar, note->staff, note->onset}),
            "%zu syllable%s went with the notes that bore %s", lost, lost == 1 ? "" : "s",
            lost == 1 ? "it" : "them");
    }
    return MUTA_OK;
}

/* Room for what a passage sounds in each part, so that it need not move as it grows. */
static muta_status expect_soundings(muta_plan *plan, const muta_weave *work)
{
    for (uint32_t part = 0; part < plan->score->part_count; part++) {
        size_t expected = plan->bars.count;
        for (size_t i = 0; i < work->lines.count; i++)
            expected += work->lines.at[i].part == part ? work->lines.at[i].event_count : 0;
        if (!MUTA_RESERVE(&plan->arena, &plan->parts[part].soundings, expected))
            return MUTA_E_MEMORY;
    }
    return MUTA_OK;
}

/* First what the passages were, then what they are. */
muta_status muta_plan_fates(muta_plan *plan, const muta_passage *passage)
{
    const muta_weave *const first = passage->first;
    const muta_weave *const work = &passage->work;
    muta_plan_passage *const of = MUTA_PUSH(&plan->arena, &plan->passages);

    if (!of)
        return MUTA_E_MEMORY;
    of->passage = passage;
    of->keeps = muta_arena_take(&plan->arena, work->events.count + 1);
    if (!of->keeps)
        return MUTA_E_MEMORY;
    MUTA_TRY(expect_soundings(plan, work));
    for (size_t i = 0; i < first->tones.count; i++) {
        const uint32_t part = first->lines.at[first->tones.at[i].line].part;
        MUTA_TRY(muta_plan_take_fates(plan, part));
        set_fate(&plan->score->parts[part], &first->tones.at[i], plan->parts[part].fates, MUTA_GONE,
                 MUTA_GONE);
    }
    for (size_t i = 0; i < work->lines.count; i++) {
        const muta_line *const line = &work->lines.at[i];
        const muta_part *const part = &plan->score->parts[line->part];
        MUTA_TRY(muta_plan_take_fates(plan, line->part));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++) {
            const muta_event *const event = &work->events.at[j];
            const struct place place = place_of(plan, passage, line->part, event);
            const bool kept = keeps_place(plan, passage, line->part, event, place);
            of->keeps[j] = kept;
            for (uint32_t k = 0; k < event->tone_count; k++)
                set_fate(part, &work->tones.at[event->tone + k], plan->parts[line->part].fates,
                         kept ? MUTA_KEPT : MUTA_MOVED, kept ? MUTA_KEPT : MUTA_GONE);
            for (uint32_t k = 0; k < event->tone_count; k++)
                plan->tones_changed += (!kept && !passage->is_tail) ||
                                       work->tones.at[event->tone + k].is_pitch_changed;
            if (kept)
                continue;
            MUTA_TRY(sound_event(plan, passage, line, j, place));
        }
    }
    count_removed(plan, first);
    return MUTA_OK;
}

/* What is left of a note in front of a passage that took its end, or behind one. */
static muta_status sound_rest_of(muta_plan *plan, const muta_passage *passage, uint32_t part,
                                 uint32_t index)
{
    const muta_note *const note = &plan->score->parts[part].notes.at[index];
    const muta_fraction end = muta_fraction_add(note->onset, note->duration);
    muta_fraction from;
    muta_fraction to;

    lifted_time(passage, note, &from, &to);
    for (int side = 0; side < 2; side++) {
        const muta_fraction begins = side == 0 ? note->onset : to;
        const muta_fraction ends = side == 0 ? from : end;
        if (muta_fraction_compare(begins, ends) >= 0 || (side == 1 && tail_of(plan, passage)))
            continue;
        muta_sounding *const sounding = push(plan, part, note->voice);
        if (!sounding)
            return MUTA_E_MEMORY;
        sounding->bar = plan->bar_of[note->bar];
        sounding->note = index;
        sounding->from = begins;
        sounding->to = ends;
        sounding->rank = 2;
        sounding->begins = side == 0;
    }
    return MUTA_OK;
}

/* A note that stays, in a voice-bar that is written anew. */
static muta_status sound_kept(muta_plan *plan, uint32_t part, uint32_t index)
{
    const muta_note *const note = &plan->score->parts[part].notes.at[index];
    muta_sounding *const sounding = push(plan, part, note->voice);

    if (!sounding)
        return MUTA_E_MEMORY;
    sounding->bar = plan->bar_of[note->bar];
    sounding->note = index;
    sounding->from = note->onset;
    sounding->to = muta_fraction_add(note->onset, note->duration);
    sounding->rank =
        note->flags & MUTA_NOTE_GRACE
            ? note->onset.top == 0 ||
                  muta_fraction_compare(note->onset, plan->score->bars[note->bar].length) < 0
            : 2;
    sounding->begins = true;
    sounding->ends = true;
    return MUTA_OK;
}

static int in_order(const void *a, const void *b)
{
    const muta_sounding *const one = a;
    const muta_sounding *const two = b;

    if (one->bar != two->bar)
        return one->bar < two->bar ? -1 : 1;
    if (one->voice != two->voice)
        return one->voice < two->voice ? -1 : 1;
    if (one->layer != two->layer)
        return one->layer < two->layer ? -1 : 1;
    const int onsets = muta_fraction_compare(one->from, two->from);
    if (onsets != 0)
        return onsets;
    if (one->rank != two->rank)
        return one->rank < two->rank ? -1 : 1;
    return one->order < two->order ? -1 : one->order > two->order;
}

/* What overlaps in a voice-bar goes into further layers. */
static void part_layers(muta_sounding *soundings, size_t count)
{
    muta_fraction ends[8];
    bool several = false;

    for (size_t i = 0; i < MUTA_LENGTH(ends); i++)
        ends[i] = MUTA_ZERO;
    for (size_t i = 0; i < count; i++) {
        uint8_t layer = 0;
        while (layer + 1u < MUTA_LENGTH(ends) &&
               muta_fraction_compare(soundings[i].from, ends[layer]) < 0)
            layer++;
        soundings[i].layer = layer;
        several = several || layer > 0;
        ends[layer] = muta_fraction_max(ends[layer], soundings[i].to);
    }
    if (several)
        muta_sort(soundings, count, sizeof *soundings, in_order);
}

static const muta_passage *passage_of(const muta_passage *const *passages, size_t count,
                                      const muta_note *note)
{
    const muta_moment at = {note->bar, note->staff, note->onset};

    for (size_t i = 0; i < count; i++)
        if (note->bar >= passages[i]->from.bar && muta_moment_compare(at, passages[i]->to) < 0)
            return passages[i];
    return NULL;
}

/* Which voice-bars are written anew; false when none is. */
static bool mark_bars(const muta_plan *plan, const muta_part *part, const muta_plan_part *of,
                      bool *marks)
{
    bool any = of->soundings.count > 0;

    for (size_t i = 0; i < of->soundings.count; i++)
        marks[of->soundings.at[i].bar * part->voices.count + of->soundings.at[i].voice] = true;
    for (size_t i = 0; i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const uint32_t bar = plan->bar_of[note->bar];
        /* A bar that is longer or shorter is filled anew in every voice that it has. */
        if (of->fates[i] < MUTA_MOVED && !(bar != MUTA_NO_BAR && plan->bars.at[bar].is_resized))
            continue;
        any = true;
        if (plan->bar_of[note->bar] != MUTA_NO_BAR)
            marks[plan->bar_of[note->bar] * part->voices.count + note->voice] = true;
    }
    return any;
}

/* What is not moved in the marked voice-bars, and what is left of notes that a passage cut. */
static muta_status sound_others(muta_plan *plan, uint32_t index,
                                const muta_passage *const *passages, size_t count,
                                const bool *marks)
{
    const muta_part *const part = &plan->score->parts[index];
    bool head_stays = false;

    for (uint32_t i = 0; i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const uint32_t bar = plan->bar_of[note->bar];
        const bool is_head = !(note->flags & MUTA_NOTE_CHORD);
        head_stays = head_stays && !is_head;
        if (bar == MUTA_NO_BAR || (note->flags & MUTA_NOTE_REST) ||
            !marks[bar * part->voices.count + note->voice])
            continue;
        if (plan->parts[index].fates[i] < MUTA_MOVED) {
            if (!head_stays)
                MUTA_TRY(sound_kept(plan, index, i));
            head_stays = true;
            continue;
        }
        const muta_passage *const passage = passage_of(passages, count, note);
        if (is_head && passage && is_cut(passage, note))
            MUTA_TRY(sound_rest_of(plan, passage, index, i));
    }
    return MUTA_OK;
}

/* A voice-bar that fell silent is written too. */
static muta_status sound_silence(muta_plan *plan, uint32_t index, const bool *marks)
{
    const size_t voices = plan->score->parts[index].voices.count;

    for (uint32_t bar = 0; bar < plan->bars.count; bar++)
        for (uint32_t voice = 0; voice < voices; voice++) {
            if (!marks[bar * voices + voice])
                continue;
            muta_sounding *const silence = push(plan, index, voice);
            if (!silence)
                return MUTA_E_MEMORY;
            silence->bar = bar;
            silence->event = MUTA_NO_SOURCE;
            silence->rank = 2;
            silence->from = silence->to = MUTA_ZERO;
        }
    return MUTA_OK;
}

/* Completes the voice-bars that are written anew with what stays in them. */
muta_status muta_plan_sounds_of(muta_plan *plan, uint32_t index,
                                const muta_passage *const *passages, size_t count)
{
    const muta_part *const part = &plan->score->parts[index];
    muta_plan_part *const of = &plan->parts[index];
    bool *const marks = take_marks(plan, part);

    if (!marks)
        return MUTA_E_MEMORY;
    if (!mark_bars(plan, part, of, marks)) {
        of->fates = NULL;
        return MUTA_OK;
    }
    MUTA_TRY(sound_others(plan, index, passages, count, marks));
    MUTA_TRY(sound_silence(plan, index, marks));
    muta_sort(of->soundings.at, of->soundings.count, sizeof *of->soundings.at, in_order);
    for (size_t i = 0, next; i < of->soundings.count; i = next) {
        for (next = i; next < of->soundings.count &&
                       of->soundings.at[next].bar == of->soundings.at[i].bar &&
                       of->soundings.at[next].voice == of->soundings.at[i].voice;)
            next++;
        part_layers(&of->soundings.at[i], next - i);
    }
    return MUTA_OK;
}
