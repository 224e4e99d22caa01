/* rewrite_notate.c: from what sounds in a voice-bar to what is written. */
#include "musicxml/rewrite.h"
#include "mutanza/limits.h"

static const muta_part *part_of(const muta_rewriting *rewriting)
{
    return &rewriting->score->parts[rewriting->part];
}

/* What was seen of each voice's rests, in one look. */
static muta_status find_silences(muta_rewriting *rewriting)
{
    const muta_part *const part = part_of(rewriting);

    rewriting->silences = muta_arena_take(&rewriting->arena, part->voices.count + 1);
    if (!rewriting->silences)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < part->voices.count; i++)
        rewriting->silences[i] = MUTA_SILENCE_GAP;
    for (size_t i = 0; i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        uint8_t *const of = &rewriting->silences[note->voice];
        if (!(note->flags & MUTA_NOTE_REST) || *of == MUTA_SILENCE_SHOWN)
            continue;
        *of = note->flags & MUTA_NOTE_HIDDEN ? MUTA_SILENCE_HIDDEN : MUTA_SILENCE_SHOWN;
    }
    for (uint32_t i = 0; i < part->voices.count; i++)
        if (muta_part_voice_number(part, i) == 1)
            rewriting->silences[i] = MUTA_SILENCE_SHOWN;
    return MUTA_OK;
}

muta_silence muta_rewrite_silence(const muta_rewriting *rewriting, uint32_t bar, uint32_t voice)
{
    const muta_part *const part = part_of(rewriting);
    const uint32_t like = rewriting->plan->bars.at[bar].like;
    bool is_hidden = false;

    if ((muta_part_voice_number(part, voice) == 1) || like >= part->bar_count)
        return (muta_silence)rewriting->silences[voice];
    for (uint32_t i = part->bars[like].first; i < part->bars[like].first + part->bars[like].count;
         i++) {
        const muta_note *const note = &part->notes.at[i];
        if (note->voice != voice || !(note->flags & MUTA_NOTE_REST))
            continue;
        if (!(note->flags & MUTA_NOTE_HIDDEN))
            return MUTA_SILENCE_SHOWN;
        is_hidden = true;
    }
    return is_hidden ? MUTA_SILENCE_HIDDEN : (muta_silence)rewriting->silences[voice];
}

/* Types are looked up again only for notes that keep theirs. */
static bool read_value(const muta_tree *tree, muta_node node, int8_t *type, uint8_t *dots)
{
    static const char *const names[] = {"1024th", "512th", "256th",  "128th",   "64th",
                                        "32nd",   "16th",  "eighth", "quarter", "half",
                                        "whole",  "breve", "long",   "maxima"};
    bool found = false;

    *dots = 0;
    for (muta_node child = muta_tree_first(tree, node); child;
         child = muta_tree_next(tree, child)) {
        *dots = (uint8_t)(*dots + (muta_tree_name(tree, child) == N_DOT));
        if (muta_tree_name(tree, child) != N_TYPE)
            continue;
        for (size_t i = 0; i < MUTA_LENGTH(names); i++)
            if (muta_names_leaf_is(tree, child, names[i])) {
                *type = (int8_t)((int)i - 8);
                found = true;
            }
    }
    return found;
}

static muta_status add_segment(muta_rewriting *rewriting, muta_voice_bar *bar,
                               const muta_segment *segment)
{
    muta_segment *const added = MUTA_PUSH(&rewriting->arena, &bar->segments);

    if (!added)
        return MUTA_E_MEMORY;
    *added = *segment;
    return MUTA_OK;
}

/* The next moment in (from, to) at which a tone of the stroke ends before the others. */
static muta_fraction next_end(const muta_sounding *sounding, muta_fraction from, muta_fraction to)
{
    const muta_event *event;

    if (sounding->note != MUTA_NO_NOTE)
        return to;
    event = &sounding->passage->work.events.at[sounding->event];
    for (uint32_t i = 0; i < event->tone_count; i++) {
        const muta_fraction end = muta_fraction_add(
            sounding->onset, sounding->passage->work.tones.at[event->tone + i].duration);
        if (muta_fraction_compare(from, end) < 0 && muta_fraction_compare(end, to) < 0)
            to = end;
    }
    return to;
}

/* Half of a tremolo of two notes that still stand side by side in one bar. */
static bool stands_in_tremolo(const muta_rewriting *rewriting, const muta_sounding *sounding)
{
    const muta_passage *const passage = sounding->passage;
    const muta_event *const event = &passage->work.events.at[sounding->event];
    const muta_line *const line = &passage->work.lines.at[passage->work.tones.at[event->tone].line];
    const uint32_t other = event->written.source == MUTA_NO_SOURCE
                               ? MUTA_NO_NOTE
                               : rewriting->tremolo_with[event->written.source];

    for (int side = -1; side <= 1 && other != MUTA_NO_NOTE; side += 2) {
        const int64_t nth = (int64_t)sounding->event + side;
        if (nth < line->event || nth >= (int64_t)line->event + line->event_count)
            continue;
        const muta_event *const beside = &passage->work.events.at[nth];
        muta_fraction onset;
        uint32_t bar;
        if (beside->written.source != other ||
            muta_fraction_compare(beside->duration, event->duration) != 0)
            continue;
        muta_plan_place(rewriting->plan, passage, rewriting->part, beside->onset, false, &bar,
                        &onset);
        return bar == sounding->bar;
    }
    return false;
}

static muta_status add_sounding(muta_rewriting *rewriting, muta_voice_bar *bar, size_t nth)
{
    const muta_sounding *const sounding = &bar->soundings[nth];
    const muta_part *const part = part_of(rewriting);
    muta_segment segment = {.from = sounding->from, .to = sounding->to, .what = (uint32_t)nth};

    segment.is_cue = sounding->note != MUTA_NO_NOTE
                         ? (part->notes.at[sounding->note].flags & MUTA_NOTE_CUE) != 0
                         : sounding->passage->work.events.at[sounding->event].is_cue;

    if (sounding->note != MUTA_NO_NOTE) {
        const muta_note *const note = &part->notes.at[sounding->note];
        segment.is_kept =
            sounding->begins && sounding->ends && !(note->flags & MUTA_NOTE_TUPLET) &&
            read_value(&rewriting->score->tree, note->node, &segment.type, &segment.dots);
        segment.keeps_beams =
            segment.is_kept && muta_rewrite_keeps_beams(rewriting, sounding->note);
        return add_segment(rewriting, bar, &segment);
    }
    /* Halves of a tremolo are not cut: each is one value. */
    if (sounding->begins && sounding->ends && stands_in_tremolo(rewriting, sounding) &&
        muta_value_of(muta_fraction_subtract(sounding->to, sounding->from), &segment.type,
                      &segment.dots)) {
        segment.is_kept = true;
        return add_segment(rewriting, bar, &segment);
    }
    for (muta_fraction from = sounding->from; muta_fraction_compare(from, sounding->to) < 0;
         from = segment.to) {
        segment.from = from;
        segment.to = next_end(sounding, from, sounding->to);
        MUTA_TRY(add_segment(rewriting, bar, &segment));
    }
    return MUTA_OK;
}

static muta_status add_silence(muta_rewriting *rewriting, muta_voice_bar *bar, muta_fraction from,
                               muta_fraction to, muta_silence how)
{
    const muta_segment segment = {
        .from = from, .to = to, .what = MUTA_SILENCE, .is_gap = how == MUTA_SILENCE_GAP};

    return muta_fraction_compare(from, to) < 0 ? add_segment(rewriting, bar, &segment) : MUTA_OK;
}

/* As long as the part has the bar now; a bar that is put in is full. */
static muta_fraction length_of(const muta_rewriting *rewriting, uint32_t bar)
{
    const muta_plan_bar *const of = &rewriting->plan->bars.at[bar];
    const muta_part *const part = part_of(rewriting);

    return !of->is_resized && of->old != MUTA_NO_BAR && of->old < part->bar_count &&
                   part->bars[of->old].count > 0
               ? part->bars[of->old].length
               : of->length;
}

/* The end of a bar of its metre: a pick-up, or what stands behind a bar line in mid-bar. */
static bool is_end_of_bar(const muta_rewriting *rewriting, uint32_t bar)
{
    const muta_score *const score = rewriting->score;
    const muta_plan_bar *const of = &rewriting->plan->bars.at[bar];
    const uint32_t old = of->old;

    if (of->is_resized || old == MUTA_NO_BAR)
        return of->lead.top > 0;
    if (old == 0)
        return true;
    return muta_fraction_compare(
               muta_fraction_add(score->bars[old - 1].length, score->bars[old].length),
               score->bars[old].metre.length) == 0;
}

static muta_status notate(muta_rewriting *rewriting, muta_layouts *known, muta_voice_bar *bar)
{
    const muta_silence how =
        bar->layer ? MUTA_SILENCE_GAP : muta_rewrite_silence(rewriting, bar->bar, bar->voice);
    const muta_plan_bar *const of = &rewriting->plan->bars.at[bar->bar];
    const muta_metre *const metre = of->metre ? of->metre : &rewriting->score->bars[of->like].metre;
    muta_fraction at = MUTA_ZERO;
    muta_fraction length = length_of(rewriting, bar->bar);

    if (!MUTA_RESERVE(&rewriting->arena, &bar->segments, bar->count + 1))
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < bar->count; i++) {
        const muta_sounding *const sounding = &bar->soundings[i];
        if (muta_fraction_compare(sounding->from, sounding->to) >= 0)
            continue;
        MUTA_TRY(add_silence(rewriting, bar, at, sounding->from, how));
        MUTA_TRY(add_sounding(rewriting, bar, i));
        at = sounding->to;
    }
    length = muta_fraction_max(length, at);
    /* A further voice that is silent all through the bar is not written at all. */
    if (bar->segments.count > 0 ||
        (bar->layer == 0 && (muta_part_voice_number(part_of(rewriting), bar->voice) == 1)))
        MUTA_TRY(add_silence(rewriting, bar, at, length, how));
    const muta_pulse pulse = muta_pulse_of(metre, length, is_end_of_bar(rewriting, bar->bar));
    const muta_status status =
        muta_notate_bar(known, &rewriting->arena, &pulse, &bar->segments, &bar->items);
    if (status == MUTA_E_DATA) {
        const muta_moment place = {rewriting->plan->bars.at[bar->bar].like, MUTA_ALL_STAVES,
                                   MUTA_ZERO};
        muta_diag_add(rewriting->diags, MUTA_ERROR,
                      muta_score_place(rewriting->score, part_of(rewriting), place),
                      "a note would need a value under a 1024th, or none that can be written; ask "
                      "for another ratio or passage");
    }
    return status;
}

static bool is_same(const muta_sounding *a, const muta_sounding *b)
{
    return a->bar == b->bar && a->voice == b->voice && a->layer == b->layer;
}

muta_status muta_rewrite_notate(muta_rewriting *rewriting)
{
    muta_plan_part *const part = &rewriting->plan->parts[rewriting->part];
    muta_sounding *const soundings = part->soundings.at;
    const size_t count = part->soundings.count;
    muta_layouts *const known = muta_arena_take(&rewriting->arena, sizeof *known);

    if (!known)
        return MUTA_E_MEMORY;
    MUTA_TRY(find_silences(rewriting));
    for (size_t first = 0, next; first < count; first = next) {
        for (next = first; next < count && is_same(&soundings[first], &soundings[next]);)
            next++;
        muta_voice_bar *const bar = MUTA_PUSH(&rewriting->arena, &rewriting->bars.bars);
        if (!bar)
            return MUTA_E_MEMORY;
        bar->bar = soundings[first].bar;
        bar->voice = soundings[first].voice;
        bar->layer = soundings[first].layer;
        bar->soundings = &soundings[first];
        bar->count = next - first;
        MUTA_TRY(notate(rewriting, known, bar));
    }
    return MUTA_OK;
}

/* The divisions under which a bar of the plan is written. */
static muta_fraction divisions_of(const muta_rewriting *rewriting, uint32_t bar)
{
    const muta_plan_bar *const of = &rewriting->plan->bars.at[bar];
    const muta_moment at = {of->like, MUTA_ALL_STAVES,
                            of->old == MUTA_NO_BAR ? of->length : MUTA_ZERO};

    return muta_part_divisions_at(part_of(rewriting), at);
}

static muta_status widen(muta_fraction divisions, muta_fraction time, int64_t *factor)
{
    if (divisions.bottom == 1 && time.bottom > 0 && divisions.top % time.bottom == 0)
        return MUTA_OK;
    const muta_fraction count = muta_fraction_multiply(time, divisions);
    *factor = muta_fraction_is_valid(count) ? muta_common_multiple(*factor, count.bottom) : 0;
    return *factor > 0 && *factor < MUTA_LIMIT_DIVISIONS ? MUTA_OK : MUTA_E_RANGE;
}

static muta_status widen_items(const muta_voice_bar *bar, muta_fraction divisions, int64_t *factor)
{
    for (size_t i = 0; i < bar->items.count; i++) {
        const muta_item *const item = &bar->items.at[i];
        /* What stays has its own duration. */
        if (item->is_kept &&
            bar->soundings[bar->segments.at[item->segment].what].note != MUTA_NO_NOTE)
            continue;
        MUTA_TRY(widen(divisions, item->from, factor));
        MUTA_TRY(widen(divisions, item->to, factor));
    }
    return MUTA_OK;
}

muta_status muta_rewrite_factor(const muta_rewriting *rewriting, int64_t *factor)
{
    *factor = 1;
    for (size_t i = 0; i < rewriting->bars.bars.count; i++) {
        const muta_voice_bar *const bar = &rewriting->bars.bars.at[i];
        MUTA_TRY(widen_items(bar, divisions_of(rewriting, bar->bar), factor));
    }
    for (size_t i = 0; i < rewriting->things.count; i++)
        MUTA_TRY(widen(divisions_of(rewriting, rewriting->things.at[i].bar),
                       rewriting->things.at[i].onset, factor));
    /* A bar that is put in is silent in full. */
    for (uint32_t bar = 0; bar < rewriting->plan->bars.count; bar++)
        if (rewriting->plan->bars.at[bar].old == MUTA_NO_BAR)
            MUTA_TRY(
                widen(divisions_of(rewriting, bar), rewriting->plan->bars.at[bar].length, factor));
    return MUTA_OK;
}
