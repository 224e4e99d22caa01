/* rewrite_cells.c: the cells of a part written anew, voice by voice, with what stands in them. */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include "score/notes.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* One node of a cell, and when. */
struct entry {
    muta_node node;
    muta_fraction at;    /* where the cursor must stand */
    muta_fraction raw;   /* by how many divisions it moves the cursor */
    muta_fraction lasts; /* the same in quarters, exactly */
    uint32_t pass;       /* which run of the cursor through the bar */
    uint32_t order;
    bool is_note;
    bool is_chord;
};

typedef MUTA_VEC(struct entry) entries;

/* A run of the cursor through a bar: one voice, with what stands between its notes. */
struct pass {
    uint32_t voice;
    uint8_t layer;
    bool is_anew;
};

enum {
    PASSES = 64
};

struct cell {
    muta_rewriting *rewriting;
    uint32_t bar; /* of the plan */
    muta_node node;
    muta_node like;            /* a node as which new ones are laid out */
    const muta_node *children; /* that it had before any bar was written anew */
    size_t child_count;
    const muta_voice_bar *anew;
    size_t anew_count;
    size_t first_thing; /* of those that moved here */
    muta_fraction divisions;
    entries head;
    entries body;
    entries tail;
    struct pass passes[PASSES];
    size_t pass_count;
};

static const muta_part *part_of(const struct cell *cell)
{
    return &cell->rewriting->score->parts[cell->rewriting->part];
}

static muta_tree *tree_of(const struct cell *cell)
{
    return &cell->rewriting->score->tree;
}

static muta_status add_entry(struct cell *cell, entries *to, const struct entry *entry)
{
    struct entry *const added = MUTA_PUSH(&cell->rewriting->arena, to);

    if (!added)
        return MUTA_E_MEMORY;
    *added = *entry;
    added->order = (uint32_t)to->count;
    return MUTA_OK;
}

static muta_status find_pass(struct cell *cell, uint32_t voice, uint8_t layer, bool is_anew,
                             uint32_t *pass)
{
    for (size_t i = 0; i < cell->pass_count; i++)
        if (cell->passes[i].voice == voice && cell->passes[i].layer == layer &&
            cell->passes[i].is_anew == is_anew) {
            *pass = (uint32_t)i;
            return MUTA_OK;
        }
    if (cell->pass_count == PASSES)
        return MUTA_E_RANGE;
    cell->passes[cell->pass_count] = (struct pass){voice, layer, is_anew};
    *pass = (uint32_t)cell->pass_count++;
    return MUTA_OK;
}

/* ---- the notes of a voice-bar ---- */

/* A voice that overlaps itself is written under labels of its own. */
static muta_status label_of(struct cell *cell, uint32_t voice, uint8_t layer, muta_string *label)
{
    const muta_part *const part = part_of(cell);

    *label = part->voices.at[voice].label;
    return layer == 0 ? MUTA_OK
                      : muta_part_free_label(cell->rewriting->score, part,
                                             (int64_t)voice * 8 + layer, label);
}

static muta_fraction in_divisions(const struct cell *cell, muta_fraction from, muta_fraction to)
{
    return muta_fraction_multiply(muta_fraction_subtract(to, from), cell->divisions);
}

/* Where a part has several instruments, a note names one: that of its first. NULL: none. */
static const char *instrument_of(const struct cell *cell)
{
    const muta_part *const part = part_of(cell);
    const muta_tree *const tree = tree_of(cell);

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
static muta_status take_node(struct cell *cell, const struct stroke *stroke, muta_node *node)
{
    bool *const used = cell->rewriting->used;

    if (stroke->note == MUTA_NO_NOTE)
        return muta_note_form_new(tree_of(cell), cell->like, instrument_of(cell), node);
    if (!used[stroke->note] && stroke->form.begins) {
        used[stroke->note] = true;
        *node = stroke->source;
        /* What goes on from it has its marks for the end. */
        return stroke->form.ends ? MUTA_OK
                                 : muta_note_form_copy(tree_of(cell), stroke->source,
                                                       &cell->rewriting->whole[stroke->note]);
    }
    const muta_node whole = cell->rewriting->whole[stroke->note];
    return muta_note_form_copy(tree_of(cell), whole ? whole : stroke->source, node);
}

static muta_status put_stroke(struct cell *cell, const struct stroke *stroke, uint32_t pass,
                              muta_fraction from, muta_fraction to, muta_node *node)
{
    struct entry entry = {.at = from,
                          .pass = pass,
                          .is_note = true,
                          .is_chord = stroke->form.is_chord,
                          .raw = MUTA_ZERO,
                          .lasts = MUTA_ZERO};

    MUTA_TRY(take_node(cell, stroke, node));
    muta_note_form form = stroke->form;
    form.duration = in_divisions(cell, from, to);
    MUTA_TRY(muta_note_form_apply(tree_of(cell), *node, &form));
    muta_tree_at(tree_of(cell), *node)->before = muta_tree_at(tree_of(cell), cell->like)->before;
    entry.node = *node;
    if (!entry.is_chord && form.item) {
        entry.raw = form.duration;
        entry.lasts = muta_fraction_subtract(to, from);
    }
    return add_entry(cell, &cell->body, &entry);
}

/* A staff is named where the part has several, or the note named one before. */
static uint8_t staff_of(const struct cell *cell, muta_node source, uint8_t staff)
{
    return part_of(cell)->staves > 1 || (source && muta_tree_child(tree_of(cell), source, N_STAFF))
               ? staff
               : (uint8_t)0;
}

static muta_status note_placement(struct cell *cell, const muta_sounding *sounding, muta_node node,
                                  bool begins, muta_fraction from)
{
    muta_rewriting *const rewriting = cell->rewriting;
    const muta_event *const event = &sounding->passage->work.events.at[sounding->event];
    muta_placement *placement;

    if (event->source == MUTA_NO_SOURCE) /* nothing hangs on it */
        return MUTA_OK;

    if (!begins && rewriting->placements.count > 0)
        for (size_t i = rewriting->placements.count; i > 0; i--) {
            placement = &rewriting->placements.at[i - 1];
            if (placement->note != event->source || placement->voice != sounding->voice)
                continue;
            placement->last = node;
            placement->is_divided = placement->is_divided || event->has_before;
            return MUTA_OK;
        }
    placement = MUTA_PUSH(&rewriting->arena, &rewriting->placements);
    if (!placement)
        return MUTA_E_MEMORY;
    *placement = (muta_placement){
        .note = event->source,
        .statement = sounding->passage->map.at[event->statement].run,
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
static uint32_t bar_beside(const struct cell *cell, muta_fraction moment, bool before)
{
    const muta_plan *const plan = cell->rewriting->plan;
    const muta_plan_bar *const bar = &plan->bars.at[cell->bar];
    uint32_t beside = cell->bar;

    if (before && moment.top == 0)
        beside--; /* of the first bar: none */
    if (!before && muta_fraction_compare(moment, bar->length) == 0)
        beside++;
    return beside < plan->bars.count && plan->bars.at[beside].old < part_of(cell)->bar_count
               ? plan->bars.at[beside].old
               : MUTA_NO_BAR;
}

/* Whether a note that stays is tied to something that moved. */
static bool waits(const muta_rewriting *rewriting, uint32_t index, bool before)
{
    const muta_note *const note = &rewriting->score->parts[rewriting->part].notes.at[index];
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;
    const uint32_t partner = before ? note->tied_to : note->tied_from;

    return fates && fates[index] < MUTA_MOVED && partner != MUTA_NO_NOTE &&
           fates[partner] >= MUTA_MOVED;
}

/* Where a note ends or begins, in the bar in which it is met. */
static muta_fraction edge_of(const struct cell *cell, const muta_note *note, bool before)
{
    const muta_fraction edge =
        before ? muta_fraction_add(note->onset, note->duration) : note->onset;
    const uint32_t bar = cell->rewriting->plan->bar_of[note->bar];

    if (bar == cell->bar)
        return edge;
    return before ? muta_fraction_subtract(edge, part_of(cell)->bars[note->bar].length)
                  : muta_fraction_add(cell->rewriting->plan->bars.at[cell->bar].length, edge);
}

/*
 * A note that stays, is tied to something that moved, and now meets a tone of the same pitch: the
 * tie goes to that.
 */
static bool meets_outer(const struct cell *cell, const muta_sounding *sounding,
                        const muta_tone *tone, muta_fraction moment, bool before)
{
    const muta_part *const part = part_of(cell);
    const uint32_t bar = bar_beside(cell, moment, before);

    if (bar == MUTA_NO_BAR || !cell->rewriting->has_waiting)
        return false;
    for (uint32_t i = part->bars[bar].first; i < part->bars[bar].first + part->bars[bar].count;
         i++) {
        const muta_note *const note = &part->notes.at[i];
        const muta_moment at = {note->bar, note->staff, note->onset};
        if (note->voice != sounding->voice || !waits(cell->rewriting, i, before) ||
            muta_fraction_compare(edge_of(cell, note, before), moment) != 0 ||
            !continues_tie(part, note, tone->pitch, at))
            continue;
        cell->rewriting->met[i] |= before ? MUTA_MET_BEHIND : MUTA_MET_BEFORE;
        return true;
    }
    return false;
}

/*
 * Whether a tone is held on from the event beside it: of two that were tied, and still follow each
 * other at one pitch. One that stays where it was is told.
 */
static bool is_held(const struct cell *cell, const muta_sounding *sounding, const muta_tone *tone,
                    bool before)
{
    const muta_part *const part = part_of(cell);
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
    if (sounding->passage->map.at[other->statement].run !=
            sounding->passage->map.at[event->statement].run ||
        muta_fraction_compare(muta_fraction_add(first->onset, first->duration), second->onset) != 0)
        return false;
    for (uint32_t i = other->tone; i < other->tone + other->tone_count; i++) {
        const uint32_t source = work->tones.at[i].source;
        if (source == MUTA_NO_SOURCE || (source != note->tied_to && source != note->tied_from) ||
            !muta_pitch_is_equal(work->tones.at[i].pitch, tone->pitch))
            continue;
        if (muta_plan_keeps(cell->rewriting->plan, sounding->passage, (uint32_t)nth))
            cell->rewriting->met[source] |= before ? MUTA_MET_BEHIND : MUTA_MET_BEFORE;
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

    while (first > line->event && work->events.at[first - 1].grace &&
           work->events.at[first - 1].source == event->source)
        first--;
    while (end < line->event + line->event_count && work->events.at[end].grace &&
           work->events.at[end].source == event->source)
        end++;
    form->grace = event->grace;
    form->graces = (uint8_t)(end - first);
    form->nth_grace = (uint8_t)(sounding->event - first);
}

/* Fills in what an item makes of one tone of an event. */
static void form_tone(const struct cell *cell, const muta_sounding *sounding, const muta_item *item,
                      const muta_segment *segment, const muta_tone *tone, muta_note_form *form)
{
    const muta_part *const part = part_of(cell);
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
    form->is_inverted = event->is_inverted;
    form->is_mirrored = event->is_mirrored;
    if (!item && event->grace != MUTA_GRACE_WRITTEN) {
        form_grace(sounding, form);
        return;
    }
    form->tie_stop = !event->has_before && is_held(cell, sounding, tone, true);
    form->tie_start = !event->has_behind && is_held(cell, sounding, tone, false);
    form->drops_sign = event->drops_sign;
    if (!item) {
        form->begins = form->ends = true;
        return;
    }
    form->is_drawn_out = event->has_behind && event->syllable != MUTA_NO_SOURCE;
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
    form->begins = form->begins && !event->has_before;
    form->ends = form->ends && !event->has_behind;
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
static muta_status put_event(struct cell *cell, const muta_voice_bar *of, uint32_t pass,
                             const muta_sounding *sounding, const muta_item *item)
{
    const muta_passage *const passage = sounding->passage;
    const muta_part *const part = part_of(cell);
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
        stroke.form.stem = event->stem;
        stroke.form.staff =
            staff_of(cell, source, is_new ? event->staff : part->notes.at[tone->source].staff);
        if (stroke.form.begins && !is_chord && event->syllable != MUTA_NO_SOURCE)
            MUTA_TRY(muta_words_of(cell->rewriting, event, &stroke.form.words));
        MUTA_TRY(label_of(cell, of->voice, of->layer, &stroke.form.voice));
        MUTA_TRY(put_stroke(cell, &stroke, pass, from, to, &node));
        if (stroke.form.ends && tone->source_count > 1)
            MUTA_TRY(muta_note_form_marks(tree_of(cell), last_source(part, tone), false, node));
        if (!is_chord && !stroke.form.grace)
            MUTA_TRY(note_placement(cell, sounding, node, stroke.form.begins, from));
        is_chord = true;
    }
    return MUTA_OK;
}

/* A member of a chord that stays: its node as it is, but for its beams. */
static muta_status keep_member(struct cell *cell, uint32_t index, uint32_t pass,
                               const muta_item *item, bool keeps_beams, bool is_chord)
{
    const muta_note *const note = &part_of(cell)->notes.at[index];
    const bool is_head = !(note->flags & MUTA_NOTE_CHORD);
    struct entry entry = {.node = note->node,
                          .at = note->onset,
                          .pass = pass,
                          .is_note = true,
                          .is_chord = is_chord,
                          .raw = MUTA_ZERO,
                          .lasts = MUTA_ZERO};
    muta_fraction raw;

    cell->rewriting->used[index] = true;
    if (item && is_head && !keeps_beams)
        MUTA_TRY(muta_note_form_beams(tree_of(cell), note->node, item));
    if (!is_head && !is_chord)
        MUTA_TRY(muta_patch_leaf(tree_of(cell), note->node, 0, N_CHORD, NULL));
    if (!is_chord && item && muta_build_number(tree_of(cell), note->node, N_DURATION, &raw)) {
        entry.raw = raw;
        entry.lasts = note->duration;
    }
    return add_entry(cell, &cell->body, &entry);
}

/* A member whose value changes: because it was cut, or belongs to a tuplet that did. */
static muta_status reshape_member(struct cell *cell, const muta_voice_bar *of, uint32_t index,
                                  uint32_t pass, const muta_sounding *sounding,
                                  const muta_item *item, bool is_chord)
{
    const muta_note *const note = &part_of(cell)->notes.at[index];
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
        .staff = staff_of(cell, note->node, note->staff),
        .words = (note->flags & MUTA_NOTE_LYRIC) && attacks ? note->node : 0,
        .tie_stop = !item->begins || (whole && (note->flags & MUTA_NOTE_TIE_STOP)),
        .tie_start = !item->ends || (whole && (note->flags & MUTA_NOTE_TIE_START)),
    };
    MUTA_TRY(label_of(cell, of->voice, of->layer, &stroke.form.voice));
    /* Its node is its own: spans that are taken off or hung find it. */
    if (attacks)
        cell->rewriting->used[index] = false;
    return put_stroke(cell, &stroke, pass, item->from, item->to, &node);
}

/* The chord of a note that stays, member by member, as far as its members stay too. */
static muta_status put_kept(struct cell *cell, const muta_voice_bar *of, uint32_t pass,
                            const muta_sounding *sounding, const muta_item *item)
{
    const muta_part *const part = part_of(cell);
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
                     ? keep_member(cell, i, pass, item,
                                   item && of->segments.at[item->segment].keeps_beams, is_chord)
                     : reshape_member(cell, of, i, pass, sounding, item, is_chord));
        is_chord = true;
    }
    return MUTA_OK;
}

/* A rest that stood there already keeps its node. */
static muta_node old_rest(const struct cell *cell, const muta_voice_bar *of, const muta_item *item)
{
    const muta_part *const part = part_of(cell);
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
            const muta_node rest = muta_tree_child(tree_of(cell), note->node, N_REST);
            if (cell->rewriting->used[i] || muta_rest_marks_has(cell->rewriting, i) ||
                (!muta_tree_child(tree_of(cell), note->node, N_TYPE) &&
                 !(rest && muta_tree_attribute(tree_of(cell), rest, N_MEASURE))))
                continue;
            cell->rewriting->used[i] = true;
            return note->node;
        }
    }
    return 0;
}

static muta_status put_rest(struct cell *cell, const muta_voice_bar *of, uint32_t pass,
                            const muta_item *item)
{
    struct entry entry = {.at = item->from, .pass = pass, .is_note = true};
    const muta_silence how = muta_rewrite_silence(cell->rewriting, cell->bar, of->voice);
    muta_string label;

    entry.lasts = muta_fraction_subtract(item->to, item->from);
    entry.raw = in_divisions(cell, item->from, item->to);
    entry.node = old_rest(cell, of, item);
    MUTA_TRY(label_of(cell, of->voice, of->layer, &label));
    if (entry.node)
        MUTA_TRY(muta_note_form_beams(tree_of(cell), entry.node, item));
    else
        MUTA_TRY(muta_note_form_rest(tree_of(cell), cell->like, item, entry.raw, label,
                                     staff_of(cell, 0, part_of(cell)->voices.at[of->voice].home),
                                     how == MUTA_SILENCE_HIDDEN, &entry.node));
    MUTA_TRY(muta_rest_marks_put(cell->rewriting, of, item, entry.node));
    return add_entry(cell, &cell->body, &entry);
}

/* Grace notes come before what begins with them. */
static muta_status put_graces(struct cell *cell, const muta_voice_bar *of, uint32_t pass,
                              size_t *next, muta_fraction up_to, bool after)
{
    for (; *next < of->count; ++*next) {
        const muta_sounding *const sounding = &of->soundings[*next];
        const int order = muta_fraction_compare(sounding->from, up_to);
        if (order > 0 || (order == 0 && after && sounding->rank > 0))
            break;
        if (sounding->rank == 2)
            continue;
        MUTA_TRY(sounding->note != MUTA_NO_NOTE ? put_kept(cell, of, pass, sounding, NULL)
                                                : put_event(cell, of, pass, sounding, NULL));
    }
    return MUTA_OK;
}

static muta_status put_voice_bar(struct cell *cell, const muta_voice_bar *of)
{
    uint32_t pass;
    size_t next = 0;

    MUTA_TRY(find_pass(cell, of->voice, of->layer, true, &pass));
    for (size_t i = 0; i < of->items.count; i++) {
        const muta_item *const item = &of->items.at[i];
        const muta_segment *const segment = &of->segments.at[item->segment];
        MUTA_TRY(put_graces(cell, of, pass, &next, item->from, false));
        if (segment->is_gap)
            continue;
        if (segment->what == MUTA_SILENCE) {
            MUTA_TRY(put_rest(cell, of, pass, item));
            continue;
        }
        const muta_sounding *const sounding = &of->soundings[segment->what];
        MUTA_TRY(sounding->note != MUTA_NO_NOTE ? put_kept(cell, of, pass, sounding, item)
                                                : put_event(cell, of, pass, sounding, item));
    }
    return put_graces(cell, of, pass, &next, muta_fraction_of(INT32_MAX, 1), false);
}

/* ---- what was there ---- */

static const muta_voice_bar *voice_bar_of(const struct cell *cell, uint32_t voice)
{
    for (size_t i = 0; i < cell->anew_count; i++)
        if (cell->anew[i].voice == voice)
            return &cell->anew[i];
    return NULL;
}

bool muta_rewrite_is_end(const muta_tree *tree, muta_node node)
{
    const char *const location = muta_tree_attribute(tree, node, N_LOCATION);

    return muta_tree_name(tree, node) == N_BARLINE && (!location || strcmp(location, "right") == 0);
}

/* The state of reading a cell's children in the order of the file. */
struct reading {
    uint32_t note;
    uint32_t thing;
    uint32_t end_of_things;
    uint32_t pass;
    uint32_t run;
    muta_fraction at; /* where the last note ended */
    bool has_pass;
    bool began; /* a note, backup or forward came */
};

static muta_status keep_note(struct cell *cell, struct reading *reading, muta_node node)
{
    const muta_part *const part = part_of(cell);
    const muta_note *const note = &part->notes.at[reading->note++];
    const muta_voice_bar *const anew = voice_bar_of(cell, note->voice);
    struct entry entry = {.node = node,
                          .at = note->onset,
                          .raw = MUTA_ZERO,
                          .lasts = MUTA_ZERO,
                          .is_note = true,
                          .is_chord = note->flags & MUTA_NOTE_CHORD};

    if (anew)
        MUTA_TRY(find_pass(cell, note->voice, 0, true, &reading->pass));
    else
        MUTA_TRY(find_pass(cell, note->voice, (uint8_t)reading->run, false, &reading->pass));
    reading->has_pass = true;
    reading->began = true;
    reading->at = muta_fraction_add(note->onset, note->duration);
    if (anew)
        return MUTA_OK;
    entry.pass = reading->pass;
    if (!entry.is_chord && !(note->flags & MUTA_NOTE_GRACE)) {
        entry.lasts = note->duration;
        if (!muta_build_number(tree_of(cell), node, N_DURATION, &entry.raw))
            entry.raw = MUTA_ZERO;
    }
    return add_entry(cell, &cell->body, &entry);
}

/* The thing of the bar that a node is, or MUTA_NO_SOURCE: a pass has just put it in, or it came
 * from a bar that goes. */
static uint32_t thing_of(const struct cell *cell, const struct reading *reading, muta_node node)
{
    const muta_part *const part = part_of(cell);

    for (uint32_t i = reading->thing; i < reading->end_of_things; i++)
        if (part->things.at[i].node == node)
            return i;
    return MUTA_NO_SOURCE;
}

static muta_status keep_thing(struct cell *cell, struct reading *reading, muta_node node)
{
    const uint32_t index = thing_of(cell, reading, node);
    const muta_thing *const thing =
        index == MUTA_NO_SOURCE ? NULL : &part_of(cell)->things.at[index];
    struct entry entry = {.node = node, .raw = MUTA_ZERO, .lasts = MUTA_ZERO, .at = reading->at};

    if (thing) {
        entry.at = muta_fraction_subtract(thing->at.onset, thing->offset);
        reading->thing = index + 1;
    }
    /* In a bar that is shorter now it stands at the end. */
    entry.at = muta_fraction_min(entry.at, cell->rewriting->plan->bars.at[cell->bar].length);
    if (muta_rewrite_is_end(tree_of(cell), node))
        return add_entry(cell, &cell->tail, &entry);
    if (thing && cell->rewriting->thing_moves[index])
        return MUTA_OK;
    if (!reading->began)
        return add_entry(cell, &cell->head, &entry);
    if (!reading->has_pass)
        MUTA_TRY(find_pass(cell, 0, 0, true, &reading->pass));
    reading->has_pass = true;
    entry.pass = reading->pass;
    return add_entry(cell, &cell->body, &entry);
}

/* Sorts the children of the cell that was into head, body and tail; cursor moves are made anew. */
static muta_status read_cell(struct cell *cell, uint32_t old)
{
    const muta_tree *const tree = tree_of(cell);
    const muta_part *const part = part_of(cell);
    struct reading reading = {
        .note = part->bars[old].first,
        .thing = part->bars[old].first_thing,
        .end_of_things = part->bars[old].first_thing + part->bars[old].thing_count,
        .at = MUTA_ZERO,
    };

    for (size_t i = 0; cell->children && i < cell->child_count; i++) {
        const muta_node child = cell->children[i];
        switch (muta_tree_name(tree, child)) {
        case N_NOTE:
            MUTA_TRY(keep_note(cell, &reading, child));
            break;
        case N_BACKUP:
            reading.run += reading.run < UINT8_MAX;
            reading.began = true;
            break;
        case N_FORWARD:
            reading.began = true;
            break;
        case MUTA_NAMES_NONE: { /* a comment, an instruction */
            const struct entry entry = {
                .node = child, .at = MUTA_ZERO, .raw = MUTA_ZERO, .lasts = MUTA_ZERO};
            if (!reading.began)
                MUTA_TRY(add_entry(cell, &cell->head, &entry));
            break;
        }
        default:
            MUTA_TRY(keep_thing(cell, &reading, child));
            break;
        }
    }
    return MUTA_OK;
}

/* A pass of the staff on which a thing stands, or any. */
static uint32_t pass_of_staff(const struct cell *cell, uint8_t staff)
{
    for (size_t i = 0; i < cell->pass_count; i++)
        if (part_of(cell)->voices.at[cell->passes[i].voice].home == staff)
            return (uint32_t)i;
    return 0;
}

static muta_status put_moved_things(struct cell *cell)
{
    const muta_rewriting *const rewriting = cell->rewriting;

    for (size_t i = cell->first_thing; i < rewriting->things.count; i++) {
        const muta_moved_thing *const thing = &rewriting->things.at[i];
        struct entry entry = {.node = thing->node,
                              .at = thing->onset,
                              .raw = MUTA_ZERO,
                              .lasts = MUTA_ZERO,
                              .pass = pass_of_staff(cell, thing->staff)};
        if (thing->bar != cell->bar)
            break;
        muta_tree_at(tree_of(cell), thing->node)->before =
            muta_tree_at(tree_of(cell), cell->like)->before;
        MUTA_TRY(muta_patch_leaf(tree_of(cell), thing->node, 0, N_OFFSET, NULL));
        MUTA_TRY(add_entry(cell, &cell->body, &entry));
    }
    return MUTA_OK;
}

/* ---- writing ---- */

static int in_order(const void *a, const void *b)
{
    const struct entry *const one = a;
    const struct entry *const two = b;

    if (one->pass != two->pass)
        return one->pass < two->pass ? -1 : 1;
    const int times = muta_fraction_compare(one->at, two->at);
    if (times != 0)
        return times;
    if (one->is_note != two->is_note)
        return one->is_note ? 1 : -1;
    return one->order < two->order ? -1 : 1;
}

/* The cell as it grows: the last child, and where the cursor stands. */
struct writer {
    struct cell *cell;
    muta_node last;
    muta_fraction at;  /* in quarters */
    muta_fraction raw; /* in divisions, as a reader counts them */
};

static void hang(struct writer *writer, muta_node node)
{
    muta_tree_insert(tree_of(writer->cell), writer->cell->node, writer->last, node);
    writer->last = node;
}

static muta_status move_to(struct writer *writer, muta_fraction to, uint32_t pass)
{
    struct cell *const cell = writer->cell;
    const muta_fraction target = muta_fraction_multiply(to, cell->divisions);
    const muta_fraction away = muta_fraction_subtract(to, writer->at);
    muta_fraction by = muta_fraction_multiply(away, cell->divisions);
    muta_string label = 0;
    uint8_t staff = 0;
    muta_node move;

    if (away.top == 0)
        return MUTA_OK;
    if (away.top < 0)
        by = muta_fraction_subtract(writer->raw, target);
    if (away.top > 0 && pass != UINT32_MAX) {
        const struct pass *const of = &cell->passes[pass];
        MUTA_TRY(label_of(cell, of->voice, of->is_anew ? of->layer : 0, &label));
        staff = staff_of(cell, 0, part_of(cell)->voices.at[of->voice].home);
    }
    writer->at = to;
    writer->raw = away.top < 0 ? target : muta_fraction_add(writer->raw, by);
    if (by.top <= 0)
        return MUTA_OK;
    MUTA_TRY(muta_note_form_move(tree_of(cell), cell->like, away.top > 0, by, label, staff, &move));
    hang(writer, move);
    return MUTA_OK;
}

static bool takes_offset(const muta_tree *tree, muta_node node)
{
    const muta_name name = muta_tree_name(tree, node);

    return name == N_DIRECTION || name == N_HARMONY;
}

/* Lets a direction count later than where it stands. */
static muta_status set_offset(struct cell *cell, muta_node node, muta_fraction by)
{
    static const muta_name before[] = {N_DIRECTION_TYPE, N_ROOT,  N_NUMERAL,   N_KIND,    N_BASS,
                                       N_DEGREE,         N_FRAME, N_INVERSION, N_FUNCTION};
    muta_tree *const tree = tree_of(cell);
    muta_fraction held = MUTA_ZERO;
    char text[24];

    (void)muta_build_number(tree, node, N_OFFSET, &held);
    held = muta_fraction_add(held, muta_fraction_multiply(by, cell->divisions));
    if (held.bottom != 1)
        return MUTA_OK;
    (void)snprintf(text, sizeof text, "%" PRId64, held.top);
    return muta_patch_leaf(tree, node, muta_patch_place(tree, node, before, MUTA_LENGTH(before)),
                           N_OFFSET, held.top ? text : NULL);
}

/* What counts while a note sounds stands before the note, or is gone back to. */
static muta_status put_thing(struct writer *writer, const struct entry *entry)
{
    struct cell *const cell = writer->cell;
    const muta_fraction cursor = writer->at;

    if (muta_fraction_compare(entry->at, cursor) == 0) {
        hang(writer, entry->node);
        return MUTA_OK;
    }
    if (takes_offset(tree_of(cell), entry->node)) {
        MUTA_TRY(set_offset(cell, entry->node, muta_fraction_subtract(entry->at, cursor)));
        hang(writer, entry->node);
        return MUTA_OK;
    }
    MUTA_TRY(move_to(writer, entry->at, entry->pass));
    hang(writer, entry->node);
    return move_to(writer, cursor, entry->pass);
}

static muta_status put_pass(struct writer *writer, const struct entry *run, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const struct entry *const entry = &run[i];
        if (!entry->is_note) {
            /* Before a gap the cursor has not come here yet; inside a note it is past it. */
            if (muta_fraction_compare(writer->at, entry->at) < 0)
                MUTA_TRY(move_to(writer, entry->at, entry->pass));
            MUTA_TRY(put_thing(writer, entry));
            continue;
        }
        if (!entry->is_chord)
            MUTA_TRY(move_to(writer, entry->at, entry->pass));
        hang(writer, entry->node);
        writer->at = muta_fraction_add(writer->at, entry->lasts);
        writer->raw = muta_fraction_add(writer->raw, entry->raw);
    }
    return MUTA_OK;
}

/* A thing inside a note is put before the note, so that its offset says when. */
static void advance_things(struct entry *run, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        size_t to = i;
        if (run[i].is_note)
            continue;
        while (to > 0 && run[to - 1].is_note &&
               (run[to - 1].is_chord ||
                muta_fraction_compare(muta_fraction_add(run[to - 1].at, run[to - 1].lasts),
                                      run[i].at) > 0))
            to--;
        while (to > 0 && to < i && run[to].is_chord)
            to--;
        if (to == i || !run[to].is_note)
            continue;
        const struct entry held = run[i];
        memmove(&run[to + 1], &run[to], (i - to) * sizeof *run);
        run[to] = held;
    }
}

static muta_status write_cell(struct cell *cell)
{
    muta_tree *const tree = tree_of(cell);
    struct writer writer = {cell, 0, MUTA_ZERO, MUTA_ZERO};
    muta_fraction end = MUTA_ZERO;
    size_t next;

    muta_tree_at(tree, cell->node)->child = 0;
    for (size_t i = 0; i < cell->head.count; i++)
        hang(&writer, cell->head.at[i].node);
    muta_sort(cell->body.at, cell->body.count, sizeof *cell->body.at, in_order);
    for (size_t first = 0; first < cell->body.count; first = next) {
        for (next = first;
             next < cell->body.count && cell->body.at[next].pass == cell->body.at[first].pass;)
            next++;
        advance_things(&cell->body.at[first], next - first);
        if (muta_fraction_compare(writer.at, MUTA_ZERO) > 0)
            MUTA_TRY(move_to(&writer, MUTA_ZERO, UINT32_MAX));
        MUTA_TRY(put_pass(&writer, &cell->body.at[first], next - first));
        end = muta_fraction_max(end, writer.at);
    }
    /* The bar ends where its longest voice does. */
    if (muta_fraction_compare(writer.at, end) < 0)
        MUTA_TRY(move_to(&writer, end, UINT32_MAX));
    for (size_t i = 0; i < cell->tail.count; i++)
        hang(&writer, cell->tail.at[i].node);
    return MUTA_OK;
}

static bool has_gaps(const muta_voice_bar *of)
{
    for (size_t i = 0; i < of->segments.count; i++)
        if (of->segments.at[i].is_gap)
            return true;
    return false;
}

/* Whether a voice-bar shows what is on a staff: at home and from end to end, or across. */
static bool shows_on(const muta_part *part, const muta_voice_bar *of, uint8_t staff)
{
    if (of->segments.count > 0 && part->voices.at[of->voice].home == staff)
        return !has_gaps(of);
    for (size_t i = 0; i < of->count; i++) {
        const muta_sounding *const sounding = &of->soundings[i];
        if (!sounding->passage || sounding->event == MUTA_NO_SOURCE)
            continue;
        const muta_event *const event = &sounding->passage->work.events.at[sounding->event];
        if (staff ==
            (event->source == MUTA_NO_SOURCE ? event->staff : part->notes.at[event->source].staff))
            return true;
    }
    return false;
}

/* A whole rest, or in a bar shorter than its metre the rest of its value, if there is one. */
static muta_item silence_of(const struct cell *cell)
{
    const muta_plan_bar *const bar = &cell->rewriting->plan->bars.at[cell->bar];
    const muta_metre *const metre =
        bar->metre ? bar->metre : &cell->rewriting->score->bars[bar->like].metre;
    muta_item item = {.from = MUTA_ZERO, .to = bar->length};
    const bool is_short = muta_fraction_is_valid(metre->length) &&
                          muta_fraction_compare(bar->length, metre->length) < 0;

    item.is_whole_bar = !is_short || !muta_value_of(bar->length, &item.type, &item.dots);
    return item;
}

/* A bar that is put in shows a rest on each staff where nothing is written. */
static muta_status fill_staves(struct cell *cell)
{
    const muta_part *const part = part_of(cell);

    for (uint8_t staff = 1; staff <= part->staves && staff < UINT8_MAX; staff++) {
        const muta_item item = silence_of(cell);
        muta_voice_bar rest = {.bar = cell->bar};
        bool has = false;
        bool found = false;
        uint32_t pass;
        for (size_t i = 0; i < cell->anew_count && !has; i++)
            has = shows_on(part, &cell->anew[i], staff);
        for (uint32_t voice = 0; voice < part->voices.count && !found; voice++) {
            rest.voice = voice;
            found = part->voices.at[voice].home == staff;
        }
        if (has || !found)
            continue;
        MUTA_TRY(find_pass(cell, rest.voice, 0, true, &pass));
        MUTA_TRY(put_rest(cell, &rest, pass, &item));
    }
    return MUTA_OK;
}

static muta_node layout_like(const muta_tree *tree, muta_node node)
{
    const muta_node first = muta_tree_first(tree, node);

    return first ? first : node;
}

/* The children of the cells as they were: nodes move from bar to bar while these are written. */
struct snapshot {
    MUTA_VEC(muta_node) nodes;
    size_t *first; /* by bar of the plan, and one more */
};

static muta_status take_snapshot(muta_rewriting *rewriting, struct snapshot *snapshot)
{
    const muta_tree *const tree = &rewriting->score->tree;
    const muta_plan *const plan = rewriting->plan;

    snapshot->first =
        muta_arena_take_array(&rewriting->arena, plan->bars.count + 1, sizeof *snapshot->first);
    if (!snapshot->first)
        return MUTA_E_MEMORY;
    for (uint32_t bar = 0; bar < plan->bars.count; bar++) {
        snapshot->first[bar] = snapshot->nodes.count;
        const muta_node cell = plan->bars.at[bar].old == MUTA_NO_BAR ? 0 : rewriting->cells[bar];
        for (muta_node child = cell ? muta_tree_first(tree, cell) : 0; child;
             child = muta_tree_next(tree, child)) {
            muta_node *const node = MUTA_PUSH(&rewriting->arena, &snapshot->nodes);
            if (!node)
                return MUTA_E_MEMORY;
            *node = child;
        }
    }
    snapshot->first[plan->bars.count] = snapshot->nodes.count;
    return MUTA_OK;
}

/* A bar is written in one kind of divisions. */
static muta_status check_divisions(const muta_rewriting *rewriting, uint32_t bar)
{
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    for (size_t i = 0; i < part->divisions.count; i++) {
        const muta_moment at = part->divisions.at[i].at;
        if (at.bar != bar || at.onset.top == 0)
            continue;
        muta_diag_add(rewriting->diags, MUTA_ERROR, muta_score_place(rewriting->score, part, at),
                      "the divisions change inside the bar; let them change at a bar line");
        return MUTA_E_DATA;
    }
    return MUTA_OK;
}

static muta_status rewrite_cell(muta_rewriting *rewriting, const struct snapshot *snapshot,
                                uint32_t bar, size_t first, size_t end, size_t first_thing)
{
    const muta_plan_bar *const of = &rewriting->plan->bars.at[bar];
    const muta_part *const part = &rewriting->score->parts[rewriting->part];
    const bool is_new = of->old == MUTA_NO_BAR;
    const muta_moment at = {of->like, MUTA_ALL_STAVES, is_new ? of->length : MUTA_ZERO};
    struct cell cell = {.rewriting = rewriting,
                        .bar = bar,
                        .node = rewriting->cells[bar],
                        .first_thing = first_thing,
                        .divisions = muta_part_divisions_at(part, at)};

    if (!cell.node)
        return MUTA_OK;
    MUTA_TRY(check_divisions(rewriting, of->old));
    cell.like = layout_like(&rewriting->score->tree,
                            is_new && of->like < part->bar_count && part->bars[of->like].cell
                                ? part->bars[of->like].cell
                                : cell.node);
    cell.children = snapshot->nodes.count > 0 ? &snapshot->nodes.at[snapshot->first[bar]] : NULL;
    cell.child_count = snapshot->first[bar + 1] - snapshot->first[bar];
    cell.anew = end > first ? &rewriting->bars.bars.at[first] : NULL;
    cell.anew_count = end - first;
    if (!is_new)
        MUTA_TRY(read_cell(&cell, of->old));
    for (size_t i = first; i < end; i++)
        MUTA_TRY(put_voice_bar(&cell, &rewriting->bars.bars.at[i]));
    if (is_new)
        MUTA_TRY(fill_staves(&cell));
    MUTA_TRY(put_moved_things(&cell));
    muta_tree_drop_attribute(&rewriting->score->tree, cell.node, N_WIDTH);
    return write_cell(&cell);
}

static bool loses_thing(const muta_rewriting *rewriting, uint32_t bar)
{
    const uint32_t old = rewriting->plan->bars.at[bar].old;
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    if (old == MUTA_NO_BAR || old >= part->bar_count)
        return false;
    for (uint32_t i = part->bars[old].first_thing;
         i < part->bars[old].first_thing + part->bars[old].thing_count; i++)
        if (rewriting->thing_moves[i])
            return true;
    return false;
}

static bool has_waiting(const muta_rewriting *rewriting)
{
    const size_t count = rewriting->score->parts[rewriting->part].notes.count;

    for (uint32_t i = 0; i < count; i++)
        if (waits(rewriting, i, true) || waits(rewriting, i, false))
            return true;
    return false;
}

muta_status muta_rewrite_cells(muta_rewriting *rewriting)
{
    const muta_part_bars *const bars = &rewriting->bars;
    struct snapshot snapshot = {.first = NULL};
    size_t next = 0;
    size_t thing = 0;

    MUTA_TRY(take_snapshot(rewriting, &snapshot));
    rewriting->has_waiting = has_waiting(rewriting);
    for (uint32_t bar = 0; bar < rewriting->plan->bars.count; bar++) {
        const size_t first = next;
        const size_t first_thing = thing;
        while (next < bars->bars.count && bars->bars.at[next].bar == bar)
            next++;
        while (thing < rewriting->things.count && rewriting->things.at[thing].bar == bar)
            thing++;
        if (next > first || thing > first_thing || loses_thing(rewriting, bar) ||
            rewriting->plan->bars.at[bar].old == MUTA_NO_BAR)
            MUTA_TRY(rewrite_cell(rewriting, &snapshot, bar, first, next, first_thing));
    }
    return MUTA_OK;
}
