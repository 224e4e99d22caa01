/*
 * rewrite_beams.c: the composer's beams: which of them hold, and where one that reached over a bar
 * line is cut, because only one side of it is written anew.
 */
#include "musicxml/rewrite.h"
#include <string.h>

static const muta_part *part_of(const muta_rewriting *rewriting)
{
    return &rewriting->score->parts[rewriting->part];
}

/* Whether a note is one that the beams of its voice may join. */
static bool is_in_voice(const muta_note *note, const muta_note *like)
{
    return note->voice == like->voice && !(note->flags & (MUTA_NOTE_CHORD | MUTA_NOTE_GRACE));
}

/* Whether a voice sings in a bar: then each syllable has a flag of its own, or a beam of its own.
 */
static bool is_sung(const muta_part *part, const muta_note *like)
{
    const muta_part_bar *const bar = &part->bars[like->bar];

    for (uint32_t i = bar->first; i < bar->first + bar->count; i++)
        if (part->notes.at[i].voice == like->voice && (part->notes.at[i].flags & MUTA_NOTE_LYRIC))
            return true;
    return false;
}

/* Where the beam begins in which a note stands; MUTA_NO_NOTE when it does nowhere. */
static uint32_t first_of_beam(const muta_part *part, uint32_t index)
{
    const muta_note *const like = &part->notes.at[index];
    uint32_t bar = like->bar;

    for (uint32_t i = index + 1; i-- > 0;) {
        const muta_note *const note = &part->notes.at[i];
        if (note->bar + 1 < bar)
            break;
        /* A beam may go over a rest. */
        if (!is_in_voice(note, like) || (note->flags & MUTA_NOTE_REST))
            continue;
        if (note->flags & MUTA_NOTE_BEAM_BEGIN)
            return i;
        if (!(note->flags & MUTA_NOTE_BEAMED))
            break;
        bar = note->bar;
    }
    return MUTA_NO_NOTE;
}

/* Whether two bars, the same or neighbours, are neighbours still. */
static bool are_together(const muta_plan *plan, uint32_t bar, uint32_t next)
{
    return plan->bar_of[bar] != MUTA_NO_BAR && plan->bar_of[next] != MUTA_NO_BAR &&
           plan->bar_of[next] - plan->bar_of[bar] == next - bar;
}

/* Whether all stay that the beam joins in which a note stands. */
static bool stays(const muta_rewriting *rewriting, uint32_t index)
{
    const muta_part *const part = part_of(rewriting);
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;
    const uint32_t first = first_of_beam(part, index);

    if (first == MUTA_NO_NOTE)
        return false;
    uint32_t bar = part->notes.at[first].bar;
    for (uint32_t i = first; i < part->notes.count; i++) {
        const muta_note *const of = &part->notes.at[i];
        if (of->bar > bar + 1)
            break;
        if (!is_in_voice(of, &part->notes.at[index]))
            continue;
        /* A rest is written anew, without the beams that it bore. */
        if ((of->flags & MUTA_NOTE_REST) && (of->flags & MUTA_NOTE_BEAMED))
            return false;
        if (of->flags & MUTA_NOTE_REST)
            continue;
        if (!(of->flags & MUTA_NOTE_BEAMED) || (i > first && (of->flags & MUTA_NOTE_BEAM_BEGIN)))
            break;
        /* Tuplets are written anew, with their beams. */
        if ((fates && fates[i] >= MUTA_MOVED) || (of->flags & MUTA_NOTE_TUPLET) ||
            !are_together(rewriting->plan, bar, of->bar))
            return false;
        bar = of->bar;
    }
    return true;
}

bool muta_rewrite_keeps_beams(const muta_rewriting *rewriting, uint32_t note)
{
    const muta_part *const part = part_of(rewriting);

    return part->notes.at[note].flags & MUTA_NOTE_BEAMED ? stays(rewriting, note)
                                                         : is_sung(part, &part->notes.at[note]);
}

/* ---- over bar lines ---- */

/* Whether the voice of a note is written anew in its bar. */
static bool is_rewritten(const muta_rewriting *rewriting, const muta_note *note)
{
    const uint32_t bar = rewriting->plan->bar_of[note->bar];
    size_t low = 0;
    size_t high = rewriting->bars.bars.count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const muta_voice_bar *const of = &rewriting->bars.bars.at[middle];
        if (of->bar < bar || (of->bar == bar && of->voice < note->voice))
            low = middle + 1;
        else
            high = middle;
    }
    return low < rewriting->bars.bars.count && rewriting->bars.bars.at[low].bar == bar &&
           rewriting->bars.bars.at[low].voice == note->voice;
}

static bool is_primary(const muta_tree *tree, muta_node beam)
{
    const char *const number = muta_tree_attribute(tree, beam, N_NUMBER);

    return !number || strcmp(number, "1") == 0;
}

/* The same for all beams of a note: without its first it has a flag, and no further ones. */
static muta_status cut_beams(muta_tree *tree, muta_node note, bool ends)
{
    const char *const toward = ends ? "begin" : "end";
    bool has_flag = false;
    muta_node next;

    for (muta_node beam = muta_tree_first(tree, note); beam; beam = next) {
        next = muta_tree_next(tree, beam);
        if (muta_tree_name(tree, beam) != N_BEAM)
            continue;
        has_flag = has_flag || (is_primary(tree, beam) && muta_names_leaf_is(tree, beam, toward));
        if (has_flag)
            muta_tree_remove(tree, note, beam);
        else if (muta_names_leaf_is(tree, beam, "continue"))
            MUTA_TRY(muta_tree_set_text(tree, beam, ends ? "end" : "begin"));
        else if (muta_names_leaf_is(tree, beam, toward))
            MUTA_TRY(muta_tree_set_text(tree, beam, ends ? "backward hook" : "forward hook"));
    }
    return MUTA_OK;
}

/* A note of a bar that is not written anew, with those of its chord. */
static muta_status cut_note(muta_rewriting *rewriting, uint32_t index, bool ends)
{
    const muta_part *const part = part_of(rewriting);

    if (rewriting->plan->bar_of[part->notes.at[index].bar] == MUTA_NO_BAR ||
        is_rewritten(rewriting, &part->notes.at[index]))
        return MUTA_OK;
    do {
        MUTA_TRY(cut_beams(&rewriting->score->tree, part->notes.at[index].node, ends));
        index++;
    } while (index < part->notes.count && (part->notes.at[index].flags & MUTA_NOTE_CHORD));
    return MUTA_OK;
}

muta_status muta_rewrite_beams_cut(muta_rewriting *rewriting)
{
    const muta_part *const part = part_of(rewriting);
    uint32_t *const last = muta_arena_take_array(&rewriting->arena, part->voices.count + 1,
                                                 sizeof(uint32_t)); /* by voice, from 1 */

    if (!last)
        return MUTA_E_MEMORY;
    for (uint32_t i = 0; i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const uint32_t before = last[note->voice];
        if (note->flags & (MUTA_NOTE_CHORD | MUTA_NOTE_GRACE | MUTA_NOTE_REST))
            continue;
        last[note->voice] = i + 1;
        if (before == 0 || !(note->flags & MUTA_NOTE_BEAMED) ||
            (note->flags & MUTA_NOTE_BEAM_BEGIN) || part->notes.at[before - 1].bar == note->bar ||
            !(part->notes.at[before - 1].flags & MUTA_NOTE_BEAMED) || stays(rewriting, i))
            continue;
        MUTA_TRY(cut_note(rewriting, before - 1, true));
        MUTA_TRY(cut_note(rewriting, i, false));
    }
    return MUTA_OK;
}
