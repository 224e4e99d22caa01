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

static muta_status lift(muta_study *study, const muta_region *where, muta_diags *diags)
{
    muta_region *all = NULL;

    if (!where)
        MUTA_TRY(muta_region_parse(study->score, NULL, &all, diags));
    const muta_status status =
        muta_passage_lift(study->score, where ? where : all, &study->passage, diags);
    muta_region_free(all);
    return status;
}

static muta_status listen(muta_study *study, const muta_study_request *request, muta_diags *diags)
{
    static const muta_study_request everything = {NULL, NULL, NULL};

    request = request ? request : &everything;
    MUTA_TRY(lift(study, request->where, diags));
    MUTA_TRY(muta_heard_init(&study->heard, study->passage));
    MUTA_TRY(read_signatures(study));
    MUTA_TRY(muta_tune_find(study, request, diags));
    return muta_companions_find(study);
}

static muta_status understand(muta_study *study)
{
    MUTA_TRY(muta_harmony_find(
        &study->heard, study->passage->keys.count > 0 ? study->signatures : NULL, &study->chords));
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

static bool is_tune(muta_default what)
{
    return what == MUTA_TUNE || what == MUTA_TUNE_IN_PARALLEL || what == MUTA_TUNE_TOGETHER;
}

/* Whether a companion is meant with the tune: all along, for what moves time. */
static bool is_meant(const muta_study *study, const muta_companion *companion, muta_default what)
{
    bool is_whole = false;

    for (size_t i = 0; i < study->tune_leads.count; i++)
        is_whole = is_whole || (study->tune_leads.at[i].from == companion->lead.from &&
                                study->tune_leads.at[i].to == companion->lead.to);
    return (what == MUTA_TUNE_IN_PARALLEL && companion->is_parallel) ||
           (what == MUTA_TUNE_TOGETHER && is_whole);
}

static muta_status add_lead(const muta_study *study, const muta_lead *lead, muta_region *region)
{
    const muta_range range = muta_lead_range(study, lead);

    return muta_region_add(region, &range);
}

/* The stretches of the tune, and of what goes with it. */
static muta_status add_stretches(const muta_study *study, muta_default what, muta_region *region)
{
    for (size_t i = 0; i < study->tune_leads.count; i++)
        MUTA_TRY(add_lead(study, &study->tune_leads.at[i], region));
    for (size_t i = 0; i < study->companions.count; i++)
        if (is_meant(study, &study->companions.at[i], what))
            MUTA_TRY(add_lead(study, &study->companions.at[i].lead, region));
    return MUTA_OK;
}

/* A tune is more than a line when it goes from one to another, or others with it. */
static bool is_one_line(const muta_study *study, muta_default what)
{
    bool is_alone = study->tune_leads.count == 1;

    for (size_t i = 0; i < study->companions.count; i++)
        is_alone = is_alone && !is_meant(study, &study->companions.at[i], what);
    return is_alone;
}

static muta_status find_stretches(const muta_study *study, muta_default what, muta_region **region)
{
    muta_region *made;

    MUTA_TRY(muta_region_new(&made));
    made->all_parts = false;
    const muta_status status = add_stretches(study, what, made);
    if (status != MUTA_OK) {
        muta_region_free(made);
        return status;
    }
    *region = made;
    return MUTA_OK;
}

static muta_status find_default(const muta_study *study, muta_default what, muta_region **region)
{
    const muta_lead *const lead = muta_tune_longest(study);
    char address[96];
    uint32_t from;
    uint32_t to;

    if (!lead)
        return muta_region_default(study->score, what, region);
    if (is_tune(what) && !is_one_line(study, what))
        return find_stretches(study, what, region);
    muta_lead_print(study, lead, address, sizeof address);
    *strchr(address, ':') = '\0';
    from = first_full_bar(study, lead);
    to = from + 1;
    if (what == MUTA_MOTIF)
        muta_motif_find(study, lead->line, &from, &to);
    if (!is_tune(what))
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

/* For how much of a stretch a key was heard. */
static muta_fraction time_in(const muta_study *study, const muta_heard_key *key, muta_fraction from,
                             muta_fraction to)
{
    const muta_fraction begins = muta_fraction_max(from, muta_heard_time(&study->heard, key->from));
    const muta_fraction ends = muta_fraction_min(to, muta_heard_time(&study->heard, key->to));

    return muta_fraction_max(MUTA_ZERO, muta_fraction_subtract(ends, begins));
}

/* Whether more of a stretch was heard in the minor of a signature than in its major. */
static bool is_minor(const muta_study *study, int32_t fifths, muta_fraction from, muta_fraction to)
{
    muta_fraction minor = MUTA_ZERO;

    for (size_t i = 0; i < study->keys.count; i++) {
        const muta_heard_key *const key = &study->keys.at[i];
        if ((muta_harmony_key_fifths(key->key) - fifths) % MUTA_CLASSES != 0)
            continue;
        minor = (key->key >= MUTA_CLASSES ? muta_fraction_add : muta_fraction_subtract)(
            minor, time_in(study, key, from, to));
    }
    return minor.top > 0;
}

/* The same of all keys on a tonic, of one mode or both. */
static muta_fraction time_on(const muta_study *study, int32_t tonic, muta_fraction from,
                             muta_fraction to)
{
    muta_fraction time = MUTA_ZERO;

    for (size_t i = 0; i < study->keys.count; i++)
        if (study->keys.at[i].key % MUTA_CLASSES == muta_fifths_class(tonic))
            time = muta_fraction_add(time, time_in(study, &study->keys.at[i], from, to));
    return time;
}

/* Whether a chord has a minor third; diminished ones have it too. */
static bool has_minor_third(const muta_heard_chord *chord)
{
    return muta_chord_tone(chord->value.kind, 3) == 1;
}

/*
 * The mode of a signature by the chords with which its stretch begins and ends: on the root of
 * both, or on that of the last; other modes than major and minor if keys on it are heard as well,
 * half as long as those that such a signature has as a rule, or, on the last alone, longer. So a
 * piece in G minor under one flat, as it was written once, is dorian; a major third at its end says
 * nothing. Source: common practice.
 */
static bool find_mode(const muta_study *study, int32_t fifths, muta_fraction from, muta_fraction to,
                      muta_mode *mode)
{
    static const struct {
        muta_mode mode;
        int8_t tonic; /* above the signature's major, in fifths */
        bool is_minor;
    } modes[] = {{MUTA_MAJOR, 0, false},      {MUTA_MINOR, 3, true},    {MUTA_DORIAN, 2, true},
                 {MUTA_MIXOLYDIAN, 1, false}, {MUTA_PHRYGIAN, 4, true}, {MUTA_LYDIAN, -1, false}};
    const muta_heard_chord *first = NULL;
    const muta_heard_chord *last = NULL;

    for (size_t i = 0; i < study->chords.count; i++) {
        const muta_fraction at = muta_heard_time(&study->heard, study->chords.at[i].from);
        if (muta_fraction_compare(at, from) < 0 || muta_fraction_compare(at, to) >= 0)
            continue;
        first = first ? first : &study->chords.at[i];
        last = &study->chords.at[i];
    }
    if (!first || first == last)
        return false;
    const bool is_framed = muta_heard_root(first) == muta_heard_root(last);
    const muta_fraction usual =
        muta_fraction_add(time_on(study, fifths, from, to), time_on(study, fifths + 3, from, to));
    for (size_t i = 0; i < MUTA_LENGTH(modes); i++) {
        const int32_t tonic = fifths + modes[i].tonic;
        const bool is_old = modes[i].mode != MUTA_MAJOR && modes[i].mode != MUTA_MINOR;
        const muta_fraction heard =
            muta_fraction_scale(time_on(study, tonic, from, to), is_framed ? 2 : 1);
        if (muta_heard_root(last) != muta_fifths_class(tonic) ||
            (is_framed && has_minor_third(first) != modes[i].is_minor) ||
            (is_old && muta_fraction_compare(heard, usual) <= 0) || (!is_framed && !is_old))
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
        const muta_fraction from = muta_fraction_add(start, entry->onset);
        const muta_fraction to = next ? muta_fraction_add(start, next->onset) : end;
        muta_mode mode = entry->key.mode;
        const bool is_found = find_mode(study, entry->key.fifths, from, to, &mode);
        /* Programs tell major of what they do not know: what begins and ends in minor is not. */
        if (is_found &&
            (!entry->is_mode_told || (entry->key.mode == MUTA_MAJOR && mode == MUTA_MINOR)))
            entry->key.mode = mode;
        else if (!entry->is_mode_told)
            entry->key.mode =
                is_minor(study, entry->key.fifths, from, to) ? MUTA_MINOR : MUTA_MAJOR;
    }
}

/* Whether two signatures begin together and are the same: of two parts, as they sound. */
static bool is_same_signature(const muta_passage_key_entry *a, const muta_passage_key_entry *b)
{
    return muta_fraction_compare(a->onset, b->onset) == 0 && a->key.fifths == b->key.fifths;
}

/* Where parts tell different modes of one signature none of them is believed; where some tell one,
 * it is that of the others too. */
static void share_modes(muta_passage *passage)
{
    muta_passage_key_entry *const keys = passage->keys.at;

    for (size_t i = 0; i < passage->keys.count; i++)
        for (size_t j = 0; j < i; j++)
            if (is_same_signature(&keys[i], &keys[j]) && keys[i].is_mode_told &&
                keys[j].is_mode_told && keys[i].key.mode != keys[j].key.mode)
                keys[i].is_disputed = keys[j].is_disputed = true;
    for (size_t i = 0; i < passage->keys.count; i++)
        for (size_t j = 0; j < passage->keys.count; j++) {
            if (!is_same_signature(&keys[i], &keys[j]))
                continue;
            if (keys[j].is_disputed)
                keys[i].is_mode_told = false;
            else if (keys[j].is_mode_told && !keys[i].is_mode_told && !keys[i].is_disputed) {
                keys[i].key.mode = keys[j].key.mode;
                keys[i].is_mode_told = true;
            }
        }
}

/* Hears a score for its keys alone. */
static muta_status hear_modes(muta_passage *passage)
{
    muta_study study = {.score = passage->score};
    muta_status status = listen(&study, NULL, NULL);

    if (status == MUTA_OK)
        status = muta_harmony_find(&study.heard, study.signatures, &study.chords);
    if (status == MUTA_OK)
        status = muta_keys_find(&study);
    if (status == MUTA_OK && study.keys.count > 0)
        set_modes(&study, passage);
    release(&study);
    return status == MUTA_E_DATA ? MUTA_OK : status; /* what can only be guessed stays guessed */
}

muta_status muta_study_modes(muta_passage *passage, const muta_study *study)
{
    bool all_told = true;

    share_modes(passage);
    for (size_t i = 0; i < passage->keys.count; i++)
        all_told = all_told && passage->keys.at[i].is_mode_told &&
                   passage->keys.at[i].key.mode != MUTA_MAJOR;
    if (all_told || passage->score->own_grids)
        return MUTA_OK;
    if (!study)
        return hear_modes(passage);
    if (study->keys.count > 0)
        set_modes(study, passage);
    return MUTA_OK;
}

void muta_study_free(muta_study *study)
{
    if (!study)
        return;
    release(study);
    free(study);
}
