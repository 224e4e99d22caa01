/* new_cell_notes.c: the notes and rests of one voice in one bar. */
#include "musicxml/new_cell.h"
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "score/notes.h"
#include <stdlib.h>
#include <string.h>

static muta_fraction in_divisions(const muta_new_cell *cell, muta_fraction from, muta_fraction to)
{
    return muta_fraction_multiply(muta_fraction_subtract(to, from), cell->divisions);
}

/* Where a part has several instruments, a note names one: that of its first. NULL: none. */
static const char *instrument_of(const muta_new_cell *cell)
{
    const muta_part *const part = muta_cell_part(cell);
    const muta_tree *const tree = muta_cell_tree(cell);

    for (size_t i = 0; i < part->notes.count; i++) {
        const muta_node named = muta_tree_child(tree, part->notes.at[i].node, N_INSTRUMENT);
        const char *const id = named ? muta_tree_attribute(tree, named, N_ID) : NULL;
        if (id)
            return id;
        if (!(part->notes.at[i].flags & MUTA_NOTE_REST))
            return NULL;
    }
    return NULL;
}

/* A written note and what the item makes of it. */
struct stroke {
    muta_node source;
    uint32_t note; /* its index, or MUTA_NO_NOTE for no reuse */
    muta_note_form form;
};

/* Takes the note's own node when it has no place yet and this is the attack; else a copy of it. */
static muta_status take_node(muta_new_cell *cell, const struct stroke *stroke, muta_node *node)
{
    bool *const used = cell->rewriting->used;

    if (stroke->note == MUTA_NO_NOTE)
        return muta_note_form_new(muta_cell_tree(cell), cell->like, instrument_of(cell), node);
    if (!used[stroke->note] && stroke->form.begins) {
        used[stroke->note] = true;
        *node = stroke->source;
        /* What goes on from it has its marks for the end. */
        return stroke->form.ends ? MUTA_OK
                                 : muta_note_form_copy(muta_cell_tree(cell), stroke->source,
                                                       &cell->rewriting->whole[stroke->note]);
    }
    const muta_node whole = cell->rewriting->whole[stroke->note];
    return muta_note_form_copy(muta_cell_tree(cell), whole ? whole : stroke->source, node);
}

static muta_status put_stroke(muta_new_cell *cell, const struct stroke *stroke, uint32_t run,
                              muta_fraction from, muta_fraction to, muta_node *node)
{
    muta_entry entry = {.at = from,
                        .run = run,
                        .is_note = true,
                        .is_chord = stroke->form.is_chord,
                        .raw = MUTA_ZERO,
                        .lasts = MUTA_ZERO};

    MUTA_TRY(take_node(cell, stroke, node));
    muta_note_form form = stroke->form;
    form.duration = in_divisions(cell, from, to);
    MUTA_TRY(muta_note_form_apply(muta_cell_tree(cell), *node, &form));
    muta_tree_at(muta_cell_tree(cell), *node)->before =
        muta_tree_at(muta_cell_tree(cell), cell->like)->before;
    entry.node = *node;
    if (!entry.is_chord && form.item) {
        entry.raw = form.duration;
        entry.lasts = muta_fraction_subtract(to, from);
    }
    return muta_cell_add_entry(cell, &cell->body, &entry);
}

static muta_status note_placement(muta_new_cell *cell, const muta_sounding *sounding,
                                  muta_node node, bool begins, muta_fraction from)
{
    muta_rewriting *const rewriting = cell->rewriting;
    const muta_event *const event = &sounding->passage->work.events.at[sounding->event];
    muta_placement *placement;

    if (event->written.source == MUTA_NO_SOURCE) /* nothing hangs on it */
        return MUTA_OK;

    if (!begins && rewriting->placements.count > 0)
        for (size_t i = rewriting->placements.count; i > 0; i--) {
            placement = &rewriting->placements.at[i - 1];
            if (placement->note != event->written.source || placement->voice != sounding->voice)
                continue;
            placement->last = node;
            placement->is_divided = placement->is_divided || event->written.has_before;
            return MUTA_OK;
        }
    placement = MUTA_PUSH(&rewriting->arena, &rewriting->placements);
    if (!placement)
        return MUTA_E_MEMORY;
    *placement = (muta_placement){
        .note = event->written.source,
        .statement = sounding->passage->map.at[event->written.statement].run,
        .voice = sounding->voice,
        .bar = cell->bar,
        .order = (uint32_t)rewriting->placements.count,
        .at = muta_fraction_add(muta_plan_bar_start(rewriting->plan, rewriting->part, cell->bar),
                                from),
        .first = node,
        .last = node,
    };
    return MUTA_OK;
}

/* Tones of an event in the order of the file, so that a chord keeps its head. */
static void sort_tones(const muta_passage *passage, const muta_event *event, uint32_t *tones)
{
    for (uint32_t i = 0; i < event->tone_count; i++) {
        uint32_t to = i;
        const uint32_t tone = event->tone + i;
        while (to > 0 &&
               passage->work.tones.at[tones[to - 1]].source > passage->work.tones.at[tone].source) {
            tones[to] = tones[to - 1];
            to--;
        }
        tones[to] = tone;
    }
}

static bool continues_tie(const muta_part *part, const muta_note *outer, muta_pitch pitch,
                          muta_moment at)
{
    return muta_pitch_sound(muta_pitch_add(outer->pitch, muta_part_transposition_at(part, at))) ==
           muta_pitch_sound(pitch);
}

/* The bar, as it was, in which a note could stand that ends (`before`) or begins at a moment of
 * this one; MUTA_NO_BAR when there is none, or new bars part them. */
static uint32_t bar_beside(const muta_new_cell *cell, muta_fraction moment, bool before)
{
    const muta_plan *const plan = cell->rewriting->plan;
    const muta_plan_bar *const bar = &plan->bars.at[cell->bar];
    uint32_t beside = cell->bar;

    if (before && moment.top == 0)
        beside--; /* of the first bar: none */
    if (!before && muta_fraction_compare(moment, bar->length) == 0)
        beside++;
    return beside < plan->bars.count && plan->bars.at[beside].old < muta_cell_part(cell)->bar_count
               ? plan->bars.at[beside].old
               : MUTA_NO_BAR;
}

/* Whether a note that stays is tied to something that moved. */
bool muta_rewrite_waits(const muta_rewriting *rewriting, uint32_t index, bool before)
{
    const muta_note *const note = &rewriting->score->parts[rewriting->part].notes.at[index];
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;
    const uint32_t partner = before ? note->tied_to : note->tied_from;

    return fates && fates[index] < MUTA_MOVED && partner != MUTA_NO_NOTE &&
           fates[partner] >= MUTA_MOVED;
}

/* Where a note ends or begins, in the bar in which it is met. */
static muta_fraction edge_of(const muta_new_cell *cell, const muta_note *note, bool before)
{
    const muta_fraction edge =
        before ? muta_fraction_add(note->onset, note->duration) : note->onset;
    const uint32_t bar = cell->rewriting->plan->bar_of[note->bar];

    if (bar == cell->bar)
        return edge;
    return before ? muta_fraction_subtract(edge, muta_cell_part(cell)->bars[note->bar].length)
                  : muta_fraction_add(cell->rewriting->plan->bars.at[cell->bar].length, edge);
}

/*
 * A note that stays, is tied to something that moved, and now meets a tone of the same pitch: the
 * tie goes to that.
 */
static bool meets_outer(const muta_new_cell *cell, const muta_sounding *sounding,
                        const muta_tone *tone, muta_fraction moment, bool before)
{
    const muta_part *const part = muta_cell_part(cell);
    const uint32_t bar = bar_beside(cell, moment, before);

    if (bar == MUTA_NO_BAR || !cell->rewriting->has_waiting)
        return false;
    for (uint32_t i = part->bars[bar].first; i < part->bars[bar].first + part->bars[bar].count;
         i++) {
        const muta_note *const note = &part->notes.at[i];
        const muta_moment at = {note->bar, note->staff, note->onset};
        if (note->voice != sounding->voice || !muta_rewrite_waits(cell->rewriting, i, before) ||
            muta_fraction_compare(edge_of(cell, note, before), moment) != 0 ||
            !continues_tie(part, note, tone->pitch, at))
            continue;
        cell->rewriting->tied[i] |= before ? MUTA_TIED_BEHIND : MUTA_TIED_BEFORE;
        return true;
    }
    return false;
}

/*
 * Whether a tone is held on from the event beside it: of two that were tied, and still follow each
 * other at one pitch. One that stays where it was is told.
 */
static bool is_held(const muta_new_cell *cell, const muta_sounding *sounding, const muta_tone *tone,
                    bool before)
{
    const muta_part *const part = muta_cell_part(cell);
    const muta_weave *const work = &sounding->passage->work;
    const muta_event *const event = &work->events.at[sounding->event];
    const muta_line *const line = &work->lines.at[tone->line];
    const int64_t nth = (int64_t)sounding->event + (before ? -1 : 1);

    if (tone->source == MUTA_NO_SOURCE)
        return false;
    const muta_note *const note = &part->notes.at[tone->source];

    if (nth < line->event || nth >= (int64_t)line->event + line->event_count ||
        (note->tied_to == MUTA_NO_NOTE && note->tied_from == MUTA_NO_NOTE))
        return false;
    const muta_event *const other = &work->events.at[nth];
    const muta_event *const first = before ? other : event;
    const muta_event *const second = before ? event : other;
    if (sounding->passage->map.at[other->written.statement].run !=
            sounding->passage->map.at[event->written.statement].run ||
        muta_fraction_compare(muta_fraction_add(first->onset, first->duration), second->onset) != 0)
        return false;
    for (uint32_t i = other->tone; i < other->tone + other->tone_count; i++) {
        const uint32_t source = work->tones.at[i].source;
        if (source == MUTA_NO_SOURCE || (source != note->tied_to && source != note->tied_from) ||
            !muta_pitch_is_equal(work->tones.at[i].pitch, tone->pitch))
            continue;
        if (muta_plan_keeps(cell->rewriting->plan, sounding->passage, (uint32_t)nth))
            cell->rewriting->tied[source] |= before ? MUTA_TIED_BEHIND : MUTA_TIED_BEFORE;
        return true;
    }
    return false;
}

/* A grace note that a pass put in, and its place among those that it stands with. */
static void form_grace(const muta_sounding *sounding, muta_note_form *form)
{
    const muta_weave *const work = &sounding->passage->work;
    const muta_event *const event = &work->events.at[sounding->event];
    const muta_line *const line = &work->lines.at[work->tones.at[event->tone].line];
    uint32_t first = sounding->event;
    uint32_t end = sounding->event + 1;

    while (first > line->event && work->events.at[first - 1].written.grace &&
           work->events.at[first - 1].written.source == event->written.source)
        first--;
    while (end < line->event + line->event_count && work->events.at[end].written.grace &&
           work->events.at[end].written.source == event->written.source)
        end++;
    form->grace = event->written.grace;
    form->graces = (uint8_t)(end - first);
    form->nth_grace = (uint8_t)(sounding->event - first);
}

/* Fills in what an item makes of one tone of an event. */
static void form_tone(const muta_new_cell *cell, const muta_sounding *sounding,
                      const muta_item *item, const muta_segment *segment, const muta_tone *tone,
                      muta_note_form *form)
{
    const muta_part *const part = muta_cell_part(cell);
    const muta_event *const event = &sounding->passage->work.events.at[sounding->event];
    const muta_plan_bar *const bar = &cell->rewriting->plan->bars.at[cell->bar];
    const muta_moment at = {bar->like, event->staff,
                            bar->old == MUTA_NO_BAR ? bar->length : sounding->from};
    const muta_fraction end = muta_fraction_add(sounding->onset, tone->duration);

    form->item = item;
    if (!tone->is_fixed) {
        form->pitch =
            muta_notes_written(sounding->passage, cell->rewriting->score, part, at, tone->pitch);
        form->has_pitch = tone->source == MUTA_NO_SOURCE ||
                          !muta_pitch_is_equal(form->pitch, part->notes.at[tone->source].pitch);
    }
    form->is_inverted = event->written.is_inverted;
    form->is_mirrored = event->written.is_mirrored;
    if (!item && event->written.grace != MUTA_GRACE_WRITTEN) {
        form_grace(sounding, form);
        return;
    }
    form->tie_stop = !event->written.has_before && is_held(cell, sounding, tone, true);
    form->tie_start = !event->written.has_behind && is_held(cell, sounding, tone, false);
    form->drops_sign = event->written.drops_sign;
    if (!item) {
        form->begins = form->ends = true;
        return;
    }
    form->is_drawn_out = event->written.has_behind && event->written.syllable != MUTA_NO_SOURCE;
    form->begins = item->begins && sounding->begins &&
                   muta_fraction_compare(segment->from, sounding->from) == 0;
    form->ends = muta_fraction_compare(end, item->to) <= 0;
    /* The outer note is told first, whether or not the tone is held from it anyway. */
    form->tie_stop =
        !form->begins || meets_outer(cell, sounding, tone, item->from, true) || form->tie_stop;
    form->tie_start =
        !form->ends || meets_outer(cell, sounding, tone, item->to, false) || form->tie_start;
    /* A tone that began before the passage goes on from its outer note only where that stays. */
    form->is_tremolo = segment->is_kept && form->begins && form->ends;
    /* Of a tone that is divided the first piece has the attack, the last the end. */
    form->begins = form->begins && !event->written.has_before;
    form->ends = form->ends && !event->written.has_behind;
}

/* The last of the notes that a tone was merged from. */
static muta_node last_source(const muta_part *part, const muta_tone *tone)
{
    uint32_t note = tone->source;

    for (uint32_t i = 1; i < tone->source_count && part->notes.at[note].tied_to != MUTA_NO_NOTE;
         i++)
        note = part->notes.at[note].tied_to;
    return part->notes.at[note].node;
}

/* Writes one item, or a grace note, of an event: each tone that still sounds. */
static muta_status put_event(muta_new_cell *cell, const muta_voice_bar *of, uint32_t run,
                             const muta_sounding *sounding, const muta_item *item)
{
    const muta_passage *const passage = sounding->passage;
    const muta_part *const part = muta_cell_part(cell);
    const muta_event *const event = &passage->work.events.at[sounding->event];
    const muta_segment *const segment = item ? &of->segments.at[item->segment] : NULL;
    const muta_fraction from = item ? item->from : sounding->from;
    const muta_fraction to = item ? item->to : sounding->from;
    uint32_t tones[256];
    bool is_chord = false;

    if (event->tone_count > MUTA_LENGTH(tones))
        return MUTA_E_RANGE;
    sort_tones(passage, event, tones);
    for (uint32_t i = 0; i < event->tone_count; i++) {
        const muta_tone *const tone = &passage->work.tones.at[tones[i]];
        const bool is_new = tone->source == MUTA_NO_SOURCE;
        const muta_node source = is_new ? 0 : part->notes.at[tone->source].node;
        struct stroke stroke = {.source = source, .note = tone->source};
        muta_node node;
        if (item && muta_fraction_compare(muta_fraction_add(sounding->onset, tone->duration),
                                          segment->from) <= 0)
            continue;
        form_tone(cell, sounding, item, segment, tone, &stroke.form);
        stroke.form.is_chord = is_chord;
        stroke.form.stem = event->written.stem;
        stroke.form.staff = muta_cell_staff(
            cell, source, is_new ? event->staff : part->notes.at[tone->source].staff);
        if (stroke.form.begins && !is_chord && event->written.syllable != MUTA_NO_SOURCE)
            MUTA_TRY(muta_words_of(cell->rewriting, event, &stroke.form.words));
        MUTA_TRY(muta_cell_label(cell, of->voice, of->layer, &stroke.form.voice));
        MUTA_TRY(put_stroke(cell, &stroke, run, from, to, &node));
        if (stroke.form.ends && tone->source_count > 1)
            MUTA_TRY(
                muta_note_form_marks(muta_cell_tree(cell), last_source(part, tone), false, node));
        if (!is_chord && !stroke.form.grace)
            MUTA_TRY(note_placement(cell, sounding, node, stroke.form.begins, from));
        is_chord = true;
    }
    return MUTA_OK;
}

/* A member of a chord that stays: its node as it is, but for its beams. */
static muta_status keep_member(muta_new_cell *cell, uint32_t index, uint32_t run,
                               const muta_item *item, bool keeps_beams, bool is_chord)
{
    const muta_note *const note = &muta_cell_part(cell)->notes.at[index];
    const bool is_head = !(note->flags & MUTA_NOTE_CHORD);
    muta_entry entry = {.node = note->node,
                        .at = note->onset,
                        .run = run,
                        .is_note = true,
                        .is_chord = is_chord,
                        .raw = MUTA_ZERO,
                        .lasts = MUTA_ZERO};
    muta_fraction raw;

    cell->rewriting->used[index] = true;
    if (item && is_head && !keeps_beams)
        MUTA_TRY(muta_note_form_beams(muta_cell_tree(cell), note->node, item));
    if (!is_head && !is_chord)
        MUTA_TRY(muta_patch_leaf(muta_cell_tree(cell), note->node, 0, N_CHORD, NULL));
    if (!is_chord && item &&
        muta_build_number(muta_cell_tree(cell), note->node, N_DURATION, &raw)) {
        entry.raw = raw;
        entry.lasts = note->duration;
    }
    return muta_cell_add_entry(cell, &cell->body, &entry);
}

/* A member whose value changes: because it was cut, or belongs to a tuplet that did. */
static muta_status reshape_member(muta_new_cell *cell, const muta_voice_bar *of, uint32_t index,
                                  uint32_t run, const muta_sounding *sounding,
                                  const muta_item *item, bool is_chord)
{
    const muta_note *const note = &muta_cell_part(cell)->notes.at[index];
    const bool whole = sounding->begins && sounding->ends;
    const bool attacks = item->begins && sounding->begins;
    struct stroke stroke = {.source = note->node, .note = index};
    muta_node node;

    stroke.form = (muta_note_form){
        .item = item,
        .pitch = note->pitch,
        .has_pitch = !(note->flags & MUTA_NOTE_FIXED),
        .is_chord = is_chord,
        .begins = attacks,
        .ends = item->ends && sounding->ends,
        .keeps_spans = true,
        .staff = muta_cell_staff(cell, note->node, note->staff),
        .words = (note->flags & MUTA_NOTE_LYRIC) && attacks ? note->node : 0,
        .tie_stop = !item->begins || (whole && (note->flags & MUTA_NOTE_TIE_STOP)),
        .tie_start = !item->ends || (whole && (note->flags & MUTA_NOTE_TIE_START)),
    };
    MUTA_TRY(muta_cell_label(cell, of->voice, of->layer, &stroke.form.voice));
    /* Its node is its own: spans that are taken off or hung find it. */
    if (attacks)
        cell->rewriting->used[index] = false;
    return put_stroke(cell, &stroke, run, item->from, item->to, &node);
}

/* The chord of a note that stays, member by member, as far as its members stay too. */
static muta_status put_kept(muta_new_cell *cell, const muta_voice_bar *of, uint32_t run,
                            const muta_sounding *sounding, const muta_item *item)
{
    const muta_part *const part = muta_cell_part(cell);
    const uint8_t *const fates = cell->rewriting->plan->parts[cell->rewriting->part].fates;
    const bool whole = sounding->begins && sounding->ends;
    bool is_chord = false;

    for (uint32_t i = sounding->note;
         i < part->notes.count &&
         (i == sounding->note || (part->notes.at[i].flags & MUTA_NOTE_CHORD));
         i++) {
        if (whole && fates[i] >= MUTA_MOVED)
            continue;
        MUTA_TRY(!item || item->is_kept
                     ? keep_member(cell, i, run, item,
                                   item && of->segments.at[item->segment].keeps_beams, is_chord)
                     : reshape_member(cell, of, i, run, sounding, item, is_chord));
        is_chord = true;
    }
    return MUTA_OK;
}

/* A rest that stood there already keeps its node. */
static muta_node old_rest(const muta_new_cell *cell, const muta_voice_bar *of,
                          const muta_item *item)
{
    const muta_part *const part = muta_cell_part(cell);
    const uint32_t old = cell->rewriting->plan->bars.at[cell->bar].old;

    if (old == MUTA_NO_BAR || old >= part->bar_count || of->layer > 0)
        return 0;
    for (uint32_t i = part->bars[old].first; i < part->bars[old].first + part->bars[old].count;
         i++) {
        const muta_note *const note = &part->notes.at[i];
        if ((note->flags & MUTA_NOTE_REST) && !(note->flags & MUTA_NOTE_TUPLET) &&
            note->voice == of->voice && muta_fraction_compare(note->onset, item->from) == 0 &&
            item->tuplets[0].actual == 0 &&
            muta_fraction_compare(muta_fraction_add(note->onset, note->duration), item->to) == 0) {
            const muta_node rest = muta_tree_child(muta_cell_tree(cell), note->node, N_REST);
            if (cell->rewriting->used[i] || muta_rest_marks_has(cell->rewriting, i) ||
                (!muta_tree_child(muta_cell_tree(cell), note->node, N_TYPE) &&
                 !(rest && muta_tree_attribute(muta_cell_tree(cell), rest, N_MEASURE))))
                continue;
            cell->rewriting->used[i] = true;
            return note->node;
        }
    }
    return 0;
}

muta_status muta_cell_put_rest(muta_new_cell *cell, const muta_voice_bar *of, uint32_t run,
                               const muta_item *item)
{
    muta_entry entry = {.at = item->from, .run = run, .is_note = true};
    const muta_silence how = muta_rewrite_silence(cell->rewriting, cell->bar, of->voice);
    muta_string label;

    entry.lasts = muta_fraction_subtract(item->to, item->from);
    entry.raw = in_divisions(cell, item->from, item->to);
    entry.node = old_rest(cell, of, item);
    MUTA_TRY(muta_cell_label(cell, of->voice, of->layer, &label));
    if (entry.node)
        MUTA_TRY(muta_note_form_beams(muta_cell_tree(cell), entry.node, item));
    else
        MUTA_TRY(muta_note_form_rest(
            muta_cell_tree(cell), cell->like, item, entry.raw, label,
            muta_cell_staff(cell, 0, muta_cell_part(cell)->voices.at[of->voice].home),
            how == MUTA_SILENCE_HIDDEN, &entry.node));
    MUTA_TRY(muta_rest_marks_put(cell->rewriting, of, item, entry.node));
    return muta_cell_add_entry(cell, &cell->body, &entry);
}

/* Grace notes come before what begins with them. */
static muta_status put_graces(muta_new_cell *cell, const muta_voice_bar *of, uint32_t run,
                              size_t *next, muta_fraction up_to, bool after)
{
    for (; *next < of->count; ++*next) {
        const muta_sounding *const sounding = &of->soundings[*next];
        const int order = muta_fraction_compare(sounding->from, up_to);
        if (order > 0 || (order == 0 && after && sounding->rank > 0))
            break;
        if (sounding->rank == 2)
            continue;
        MUTA_TRY(sounding->note != MUTA_NO_NOTE ? put_kept(cell, of, run, sounding, NULL)
                                                : put_event(cell, of, run, sounding, NULL));
    }
    return MUTA_OK;
}

muta_status muta_cell_put_voice_bar(muta_new_cell *cell, const muta_voice_bar *of)
{
    uint32_t run;
    size_t next = 0;

    MUTA_TRY(muta_cell_find_run(cell, of->voice, of->layer, true, &run));
    for (size_t i = 0; i < of->items.count; i++) {
        const muta_item *const item = &of->items.at[i];
        const muta_segment *const segment = &of->segments.at[item->segment];
        MUTA_TRY(put_graces(cell, of, run, &next, item->from, false));
        if (segment->is_gap)
            continue;
        if (segment->what == MUTA_SILENCE) {
            MUTA_TRY(muta_cell_put_rest(cell, of, run, item));
            continue;
        }
        const muta_sounding *const sounding = &of->soundings[segment->what];
        MUTA_TRY(sounding->note != MUTA_NO_NOTE ? put_kept(cell, of, run, sounding, item)
                                                : put_event(cell, of, run, sounding, item));
    }
    return put_graces(cell, of, run, &next, muta_fraction_of(INT32_MAX, 1), false);
}
