/* study.c: listens to a passage, then to what it holds, each step on what the one before found. */
#include "study/study.h"
#include "mutanza/limits.h"
#include "score/region.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int by_onset(const void *a, const void *b)
{
    const muta_passage_key_entry *const one = *(const muta_passage_key_entry *const *)a;
    const muta_passage_key_entry *const two = *(const muta_passage_key_entry *const *)b;
    const int order = muta_fraction_compare(one->onset, two->onset);

    return order ? order : one < two ? -1 : one > two;
}

/* Of the signatures of the parts the one that most have; of equals the plainer. */
static int32_t commonest(const int32_t *fifths, const bool *has, size_t count)
{
    size_t tally[2 * MUTA_LIMIT_FIFTHS * 2 + 1] = {0};
    const int32_t middle = 2 * MUTA_LIMIT_FIFTHS;
    int32_t best = 0;

    for (size_t i = 0; i < count; i++)
        if (has[i] && fifths[i] >= -middle && fifths[i] <= middle)
            tally[fifths[i] + middle]++;
    for (int32_t i = -middle; i <= middle; i++)
        if (tally[i + middle] > tally[best + middle] ||
            (tally[i + middle] == tally[best + middle] && abs(i) < abs(best)))
            best = i;
    return best;
}

/* What the parts have as they sound, bar by bar. */
static void step_signatures(muta_study *study, const muta_passage_key_entry **entries,
                            int32_t *fifths, bool *has)
{
    size_t next = 0;

    for (size_t bar = 0; bar < study->heard.bars.count; bar++) {
        const muta_fraction at = muta_heard_time(&study->heard, study->heard.bars.at[bar].from);
        for (; next < study->passage->keys.count &&
               muta_fraction_compare(entries[next]->onset, at) <= 0;
             next++) {
            fifths[entries[next]->part] = entries[next]->key.fifths;
            has[entries[next]->part] = true;
        }
        study->signatures[bar] = commonest(fifths, has, study->score->part_count);
    }
}

static muta_status read_signatures(muta_study *study)
{
    const muta_passage *const passage = study->passage;
    const size_t parts = study->score->part_count;
    const muta_passage_key_entry **const entries =
        (const muta_passage_key_entry **)calloc(passage->keys.count + 1, sizeof *entries);
    int32_t *const fifths = calloc(parts + 1, sizeof *fifths);
    bool *const has = calloc(parts + 1, sizeof *has);

    study->signatures = muta_arena_take_array(&study->arena, study->heard.bars.count + 1,
                                              sizeof *study->signatures);
    const bool good = entries && fifths && has && study->signatures;
    if (good) {
        for (size_t i = 0; i < passage->keys.count; i++)
            entries[i] = &passage->keys.at[i];
        qsort((void *)entries, passage->keys.count, sizeof *entries, by_onset);
        step_signatures(study, entries, fifths, has);
    }
    free((void *)entries);
    free(fifths);
    free(has);
    return good ? MUTA_OK : MUTA_E_MEMORY;
}

static muta_status listen(muta_study *study, const muta_study_request *request, muta_diags *diags)
{
    static const muta_study_request everything = {NULL, NULL, NULL};
    muta_region *region;

    request = request ? request : &everything;
    MUTA_TRY(muta_region_parse(study->score, request->where, &region, diags));
    const muta_status status = muta_passage_lift(study->score, region, &study->passage, diags);
    muta_region_free(region);
    MUTA_TRY(status);
    MUTA_TRY(muta_heard_init(&study->heard, study->passage));
    MUTA_TRY(read_signatures(study));
    return muta_tune_find(study, request, diags);
}

static muta_status understand(muta_study *study)
{
    MUTA_TRY(muta_harmony_find(&study->heard, &muta_harmony_costs_default,
                               study->passage->keys.count > 0 ? study->signatures : NULL,
                               &study->chords));
    MUTA_TRY(muta_keys_find(study));
    MUTA_TRY(muta_symbols_take(study));
    MUTA_TRY(muta_nonchords_find(study));
    MUTA_TRY(muta_phrases_find(study));
    MUTA_TRY(muta_skeleton_find(study));
    MUTA_TRY(muta_hemiolas_find(study));
    MUTA_TRY(muta_motifs_find(study));
    study->profile = muta_profile_of(study, 0, study->tune.count);
    return MUTA_OK;
}

muta_status muta_study_new(const muta_score *score, const muta_study_request *request,
                           muta_study **study, muta_diags *diags)
{
    muta_study *const made = calloc(1, sizeof *made);
    muta_status status = made ? MUTA_OK : MUTA_E_MEMORY;

    if (made) {
        made->score = score;
        status = listen(made, request, diags);
    }
    if (status == MUTA_OK)
        status = understand(made);
    if (status != MUTA_OK) {
        muta_study_free(made);
        return status;
    }
    *study = made;
    return MUTA_OK;
}

/* Frees what a study holds. */
static void release(muta_study *study)
{
    muta_heard_clear(&study->heard);
    muta_passage_free(study->passage);
    muta_arena_clear(&study->arena);
}

/* The first bar from where a line has the tune that is full, and in which it sounds. */
static uint32_t first_full_bar(const muta_study *study, const muta_lead *lead)
{
    for (size_t i = 0; i < study->tune.count; i++) {
        const muta_heard_tone *const tone = muta_look_tone(study, i);
        const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, tone->from);
        if (tone->line == lead->line && bar->offset == 0)
            return bar->index;
    }
    return muta_heard_bar_at(&study->heard, lead->from)->index;
}

static muta_status find_default(const muta_study *study, muta_default what, muta_region **region)
{
    const muta_lead *const lead = muta_tune_longest(study);
    char address[96];
    uint32_t from;
    uint32_t to;

    if (!lead)
        return muta_region_default(study->score, what, region);
    muta_lead_print(study, lead, address, sizeof address);
    *strchr(address, ':') = '\0';
    from = first_full_bar(study, lead);
    to = from + 1;
    if (what == MUTA_MOTIF)
        muta_motif_find(study, lead->line, &from, &to);
    if (what != MUTA_TUNE)
        (void)snprintf(address + strlen(address), sizeof address - strlen(address), ":#%u-#%u",
                       from + 1, to);
    return muta_region_parse(study->score, address, region, NULL);
}

muta_status muta_study_default(const muta_score *score, muta_default what, muta_region **region)
{
    muta_study study = {.score = score};
    muta_status status = MUTA_E_DATA;

    if (what != MUTA_EVERYTHING && !score->own_grids)
        status = listen(&study, NULL, NULL);
    /* A score in which a bar can only be guessed still has a first line. */
    status = status == MUTA_OK       ? find_default(&study, what, region)
             : status == MUTA_E_DATA ? muta_region_default(score, what, region)
                                     : status;
    release(&study);
    return status;
}

/* Whether more of a stretch was heard in the minor of a signature than in its major. */
static bool is_minor(const muta_study *study, int32_t fifths, muta_fraction from, muta_fraction to)
{
    muta_fraction minor = MUTA_ZERO;

    for (size_t i = 0; i < study->keys.count; i++) {
        const muta_heard_key *const key = &study->keys.at[i];
        const muta_fraction begins =
            muta_fraction_max(from, muta_heard_time(&study->heard, key->from));
        muta_fraction ends = muta_heard_time(&study->heard, key->to);
        if ((muta_harmony_key_fifths(key->key) - fifths) % MUTA_CLASSES != 0)
            continue;
        ends = muta_fraction_compare(ends, to) < 0 ? ends : to;
        const muta_fraction lasts = muta_fraction_subtract(ends, begins);
        if (lasts.top > 0)
            minor = key->key >= MUTA_CLASSES ? muta_fraction_add(minor, lasts)
                                             : muta_fraction_subtract(minor, lasts);
    }
    return minor.top > 0;
}

/* For how long a key on this tonic was heard. */
static int64_t time_on(const muta_study *study, int32_t tonic, bool minor)
{
    int64_t time = 0;

    for (size_t i = 0; i < study->keys.count; i++) {
        const muta_heard_key *const key = &study->keys.at[i];
        if (key->key % MUTA_CLASSES == muta_fifths_class(tonic) &&
            (key->key >= MUTA_CLASSES) == minor)
            time += key->to - key->from;
    }
    return time;
}

/* Whether a chord has a minor third; diminished ones have it too. */
static bool has_minor_third(const muta_heard_chord *chord)
{
    return muta_chord_tone(chord->value.kind, 3) == 1;
}

/* What begins and ends on one root is in its key, in whichever mode of the signature that is; a
 * major third at the end of a piece in minor says nothing. */
static bool is_framed(const muta_study *study, int32_t fifths, muta_mode *mode)
{
    static const struct {
        muta_mode mode;
        int8_t tonic; /* above the signature's major, in fifths */
        bool minor;
    } modes[] = {{MUTA_MAJOR, 0, false},      {MUTA_MINOR, 3, true},    {MUTA_DORIAN, 2, true},
                 {MUTA_MIXOLYDIAN, 1, false}, {MUTA_PHRYGIAN, 4, true}, {MUTA_LYDIAN, -1, false}};
    const muta_heard_chord *const first = study->chords.at;
    const muta_heard_chord *const last =
        study->chords.count > 1 ? &study->chords.at[study->chords.count - 1] : NULL;

    if (!last || muta_heard_root(first) != muta_heard_root(last))
        return false;
    for (size_t i = 0; i < MUTA_LENGTH(modes); i++)
        if (muta_heard_root(last) == muta_fifths_class(fifths + modes[i].tonic) &&
            has_minor_third(first) == modes[i].minor) {
            *mode = modes[i].mode;
            return true;
        }
    return false;
}

/*
 * The mode of a signature in the old way of writing: a piece in G minor under one flat is dorian.
 * True where the last chord's root is such a tonic, and it is heard longer than those that the
 * signature has as a rule.
 */
static bool is_written_so(const muta_study *study, int32_t fifths, muta_mode *mode)
{
    static const struct {
        muta_mode mode;
        int8_t tonic; /* above the signature's major, in fifths */
        bool minor;
    } modes[] = {{MUTA_DORIAN, 2, true},
                 {MUTA_MIXOLYDIAN, 1, false},
                 {MUTA_PHRYGIAN, 4, true},
                 {MUTA_LYDIAN, -1, false}};
    const int64_t usual = time_on(study, fifths, false) + time_on(study, fifths + 3, true);
    const muta_heard_chord *const last =
        study->chords.count > 0 ? &study->chords.at[study->chords.count - 1] : NULL;

    for (size_t i = 0; last && i < MUTA_LENGTH(modes); i++) {
        const int32_t tonic = fifths + modes[i].tonic;
        const int64_t time = time_on(study, tonic, modes[i].minor);
        if (muta_heard_root(last) != muta_fifths_class(tonic) || time == 0 ||
            time_on(study, tonic, false) + time_on(study, tonic, true) <= usual)
            continue;
        *mode = modes[i].mode;
        return true;
    }
    return false;
}

static void set_modes(const muta_study *study, muta_passage *passage)
{
    const muta_fraction start =
        muta_fraction_add(study->score->bars[passage->from.bar].start, passage->from.onset);
    const muta_fraction end = muta_heard_time(&study->heard, study->heard.end);

    for (size_t i = 0; i < passage->keys.count; i++) {
        muta_passage_key_entry *const entry = &passage->keys.at[i];
        const muta_passage_key_entry *const next =
            i + 1 < passage->keys.count && entry[1].part == entry->part && entry[1].onset.top > 0
                ? entry + 1
                : NULL;
        if (!entry->is_mode_told && !is_framed(study, entry->key.fifths, &entry->key.mode) &&
            !is_written_so(study, entry->key.fifths, &entry->key.mode))
            entry->key.mode =
                is_minor(study, entry->key.fifths, muta_fraction_add(start, entry->onset),
                         next ? muta_fraction_add(start, next->onset) : end)
                    ? MUTA_MINOR
                    : MUTA_MAJOR;
    }
}

/* Where parts tell another mode of one signature, none of them is believed. */
static void doubt_modes(muta_passage *passage)
{
    for (size_t i = 0; i < passage->keys.count; i++)
        for (size_t j = 0; j < i; j++) {
            muta_passage_key_entry *const one = &passage->keys.at[i];
            muta_passage_key_entry *const two = &passage->keys.at[j];
            if (muta_fraction_compare(one->onset, two->onset) != 0 ||
                one->key.fifths != two->key.fifths || one->key.mode == two->key.mode)
                continue;
            one->is_mode_told = two->is_mode_told = false;
        }
}

muta_status muta_study_modes(muta_passage *passage)
{
    muta_study study = {.score = passage->score};
    muta_status status = MUTA_OK;
    bool all_told = true;

    doubt_modes(passage);
    for (size_t i = 0; i < passage->keys.count; i++)
        all_told = all_told && passage->keys.at[i].is_mode_told;
    if (all_told || study.score->own_grids)
        return MUTA_OK;
    status = listen(&study, NULL, NULL);
    if (status == MUTA_OK)
        status = muta_harmony_find(&study.heard, &muta_harmony_costs_default, study.signatures,
                                   &study.chords);
    if (status == MUTA_OK)
        status = muta_keys_find(&study);
    if (status == MUTA_OK && study.keys.count > 0)
        set_modes(&study, passage);
    release(&study);
    return status == MUTA_E_DATA ? MUTA_OK : status; /* what can only be guessed stays guessed */
}

void muta_study_free(muta_study *study)
{
    if (!study)
        return;
    release(study);
    free(study);
}
