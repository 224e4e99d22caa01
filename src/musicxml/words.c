/* words.c: syllables, kept before their notes are written anew, and joined under one tone. */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include <string.h>

static muta_status keep_lyrics(muta_tree *tree, muta_node from, muta_node words, muta_node *last)
{
    for (muta_node child = muta_tree_first(tree, from); child;
         child = muta_tree_next(tree, child)) {
        muta_node copy;
        if (muta_tree_name(tree, child) != N_LYRIC)
            continue;
        MUTA_TRY(muta_note_form_copy(tree, child, &copy));
        muta_tree_insert(tree, words, *last, copy);
        *last = copy;
    }
    return MUTA_OK;
}

/* Those of a note, and of the other members of its chord, that stand under them. */
static muta_status keep_words(muta_rewriting *rewriting, uint32_t note)
{
    muta_tree *const tree = &rewriting->score->tree;
    const muta_part *const part = &rewriting->score->parts[rewriting->part];
    muta_node last = 0;

    if (rewriting->words[note])
        return MUTA_OK;
    MUTA_TRY(muta_tree_add(tree, MUTA_ELEMENT, N_NOTE, &rewriting->words[note]));
    for (uint32_t i = note;
         i < part->notes.count && (i == note || (part->notes.at[i].flags & MUTA_NOTE_CHORD)); i++)
        MUTA_TRY(keep_lyrics(tree, part->notes.at[i].node, rewriting->words[note], &last));
    return MUTA_OK;
}

/* Whether a note bears words that an event joins to its first. */
static bool is_joined(const muta_part *part, const muta_event *event, uint32_t note)
{
    return (part->notes.at[note].flags & MUTA_NOTE_LYRIC) &&
           part->notes.at[note].voice == part->notes.at[event->written.syllable].voice;
}

static muta_status keep_event(muta_rewriting *rewriting, const muta_event *event)
{
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    if (event->written.syllable == MUTA_NO_SOURCE)
        return MUTA_OK;
    MUTA_TRY(keep_words(rewriting, event->written.syllable));
    for (uint32_t i = event->written.syllable + 1;
         event->written.joined != MUTA_NO_SOURCE && i <= event->written.joined; i++)
        if (is_joined(part, event, i))
            MUTA_TRY(keep_words(rewriting, i));
    return MUTA_OK;
}

muta_status muta_words_keep(muta_rewriting *rewriting)
{
    const muta_plan *const plan = rewriting->plan;
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    rewriting->words =
        muta_arena_take_array(&rewriting->arena, part->notes.count + 1, sizeof(muta_node));
    if (!rewriting->words)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < plan->passages.count; i++) {
        const muta_weave *const work = &plan->passages.at[i].passage->work;
        for (size_t j = 0; j < work->lines.count; j++)
            for (uint32_t k = 0; k < work->lines.at[j].event_count; k++)
                if (work->lines.at[j].part == rewriting->part)
                    MUTA_TRY(keep_event(rewriting, &work->events.at[work->lines.at[j].event + k]));
    }
    return MUTA_OK;
}

/* Whether a syllable begins its word, or ends it. */
static bool begins_word(const muta_tree *tree, muta_node lyric)
{
    const muta_node syllabic = muta_tree_child(tree, lyric, N_SYLLABIC);

    return !syllabic || muta_names_leaf_is(tree, syllabic, "begin") ||
           muta_names_leaf_is(tree, syllabic, "single");
}

static bool ends_word(const muta_tree *tree, muta_node lyric)
{
    const muta_node syllabic = muta_tree_child(tree, lyric, N_SYLLABIC);

    return !syllabic || muta_names_leaf_is(tree, syllabic, "end") ||
           muta_names_leaf_is(tree, syllabic, "single");
}

/* The verse of `words` that has the number of a lyric; 0 when there is none. */
static muta_node verse_of(const muta_tree *tree, muta_node words, muta_node lyric)
{
    const char *const number = muta_tree_attribute(tree, lyric, N_NUMBER);

    for (muta_node child = muta_tree_first(tree, words); child;
         child = muta_tree_next(tree, child)) {
        const char *const other = muta_tree_attribute(tree, child, N_NUMBER);
        if (muta_tree_name(tree, child) == N_LYRIC &&
            strcmp(number ? number : "1", other ? other : "1") == 0)
            return child;
    }
    return 0;
}

/* One syllable behind another, as one: with a blank between words. */
static muta_status join_lyric(muta_tree *tree, muta_node to, muta_node from)
{
    const muta_node text = muta_tree_child(tree, to, N_TEXT);
    const muta_node more = muta_tree_child(tree, from, N_TEXT);
    const bool begins = begins_word(tree, to);
    const bool ends = ends_word(tree, from);
    char joined[512];
    size_t length;

    if (!text || !more)
        return MUTA_OK;
    const muta_text one = muta_tree_leaf(tree, text);
    const muta_text two = muta_tree_leaf(tree, more);
    if (one.length + two.length + 2 > sizeof joined)
        return MUTA_OK;
    memcpy(joined, one.at, one.length);
    length = one.length;
    if (ends_word(tree, to))
        joined[length++] = ' ';
    memcpy(joined + length, two.at, two.length);
    joined[length + two.length] = '\0';
    MUTA_TRY(muta_tree_set_text(tree, text, joined));
    return muta_patch_leaf(tree, to, 0, N_SYLLABIC,
                           begins ? (ends ? "single" : "begin") : (ends ? "end" : "middle"));
}

muta_status muta_words_of(muta_rewriting *rewriting, const muta_event *event, muta_node *words)
{
    const muta_part *const part = &rewriting->score->parts[rewriting->part];
    muta_tree *const tree = &rewriting->score->tree;

    *words = rewriting->words[event->written.syllable];
    if (event->written.joined == MUTA_NO_SOURCE)
        return MUTA_OK;
    MUTA_TRY(muta_note_form_copy(tree, *words, words));
    for (uint32_t i = event->written.syllable + 1; i <= event->written.joined; i++) {
        if (!is_joined(part, event, i))
            continue;
        for (muta_node lyric = muta_tree_first(tree, rewriting->words[i]); lyric;
             lyric = muta_tree_next(tree, lyric)) {
            const muta_node verse = verse_of(tree, *words, lyric);
            if (verse)
                MUTA_TRY(join_lyric(tree, verse, lyric));
        }
    }
    return MUTA_OK;
}
