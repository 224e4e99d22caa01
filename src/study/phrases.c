/*
 * phrases.c: where the tune breathes. A dynamic program over its tones: a phrase ends where there
 * is a rest, a long tone, a cadence, and after four bars rather than three.
 */
#include "study/study.h"
#include <stdlib.h>

const char *const muta_cadence_names[] = {[MUTA_CADENCE_NONE] = "none",
                                          [MUTA_CADENCE_AUTHENTIC] = "authentic",
                                          [MUTA_CADENCE_HALF] = "half",
                                          [MUTA_CADENCE_PLAGAL] = "plagal",
                                          [MUTA_CADENCE_DECEPTIVE] = "deceptive"};

/* Costs and gains in thousandths. A rest outweighs a long tone, and that a cadence: see the ranks
 * of the published rules in Temperley, The Cognition of Basic Musical Structures (2001), from
 * memory. What is heard was priced by coordinate descent on half of the chorales without their
 * fermatas and of the joined variations (tests/reference/phrases.mjs measures both), then chosen
 * among seven by hand with both halves in sight, and rounded; what is written, by hand. */
enum {
    EACH_PHRASE = 2200,
    A_FERMATA = 60000, /* that is an end, whatever else speaks against it */
    A_BREATH = 6000,
    A_CLAUSE = 2500,    /* the words have a comma or a full stop */
    AN_EDGE = 4000,     /* a repeat, an ending or a jump */
    A_REST = 4300,      /* a quarter of silence and more */
    A_LONG_TONE = 2600, /* twice as long as its neighbours, in proportion; at most: */
    THE_LONGEST_TONE = 2100,
    A_CADENCE = 2000, /* dominant to tonic */
    A_HALF_CADENCE = 900,
    ON_A_BAR = 1000,      /* the next phrase begins as the first did in its bar */
    AWAY = 500,           /* an eighth of a bar from a usual length */
    LONGEST_EIGHTHS = 128 /* of a bar */
};

/* ---- cadences ---- */

static muta_cadence cadence_at(const muta_study *study, int64_t at)
{
    const muta_heard_chord *const chord = muta_look_chord(study, at);
    const muta_heard_chord *const before = chord && chord > study->chords.at ? chord - 1 : NULL;

    if (!chord)
        return MUTA_CADENCE_NONE;
    const int tonic = chord->key % MUTA_CLASSES;
    const int root = (muta_heard_root(chord) - tonic + MUTA_CLASSES) % MUTA_CLASSES;
    const int came = before ? (muta_heard_root(before) - tonic + MUTA_CLASSES) % MUTA_CLASSES : -1;
    /* Both stand on their roots: an inversion or a six-four closes nothing. */
    const bool is_firm = before && before->value.bass == 0 && chord->value.bass == 0;
    const bool from_dominant = is_firm && came == 7 && muta_chord_is_dominant(before->value.kind);

    if (root == 0 && from_dominant)
        return MUTA_CADENCE_AUTHENTIC;
    if (root == 7 && muta_chord_is_dominant(chord->value.kind))
        return MUTA_CADENCE_HALF;
    if (root == 0 && is_firm && came == 5)
        return MUTA_CADENCE_PLAGAL;
    if ((root == 9 || root == 8) && from_dominant)
        return MUTA_CADENCE_DECEPTIVE;
    return MUTA_CADENCE_NONE;
}

/* ---- where phrases end ---- */

/* From one tone's beginning to the next. */
static int64_t until_next(const muta_study *study, size_t nth)
{
    return nth + 1 < study->tune.count
               ? muta_look_tone(study, nth + 1)->from - muta_look_tone(study, nth)->from
               : muta_look_tone(study, nth)->to - muta_look_tone(study, nth)->from;
}

/* How long the tones before one last, of the last few. */
static int64_t usual_length(const muta_study *study, size_t nth)
{
    enum {
        LAST = 6
    };
    const size_t first = nth > LAST ? nth - LAST : 0;
    int64_t sum = 0;

    for (size_t i = first; i < nth; i++)
        sum += until_next(study, i);
    return nth > first ? sum / (int64_t)(nth - first) : until_next(study, nth);
}

static int64_t at_most(int64_t value, int64_t most)
{
    return value < most ? value : most;
}

static int64_t place_in_bar(const muta_study *study, int64_t at)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, at);

    return at - bar->from + bar->offset;
}

/* The flags of what is written of the nth tone, with those tied to it. */
static uint32_t flags_of(const muta_study *study, size_t nth)
{
    const muta_heard_tone *const tone = muta_look_tone(study, nth);
    const muta_weave *const work = &study->passage->work;

    return muta_part_tied_flags(&study->score->parts[work->lines.at[tone->line].part],
                                work->tones.at[tone->tone].source);
}

/* Whether the syllable that the nth tone sings, or goes on to sing, is the last of its clause. */
static bool ends_clause(const muta_study *study, size_t nth)
{
    if (!(flags_of(study, nth + 1) & MUTA_NOTE_LYRIC))
        return false;
    for (size_t i = nth + 1; i > 0; i--)
        if (flags_of(study, i - 1) & MUTA_NOTE_LYRIC)
            return flags_of(study, i - 1) & MUTA_NOTE_CLAUSE;
    return false;
}

static uint32_t bar_of(const muta_study *study, size_t nth)
{
    return muta_heard_bar_at(&study->heard, muta_look_tone(study, nth)->from)->index;
}

/* What is written at the nth tone, or between it and the next. */
static int64_t marks_behind(const muta_study *study, size_t nth)
{
    const uint32_t flags = flags_of(study, nth);
    const uint32_t next = bar_of(study, nth + 1);
    int64_t gain = 0;

    gain += flags & MUTA_NOTE_FERMATA ? A_FERMATA : 0;
    gain += flags & MUTA_NOTE_BREATH ? A_BREATH : 0;
    gain += ends_clause(study, nth) ? A_CLAUSE : 0;
    for (uint32_t bar = bar_of(study, nth); bar < next; bar++)
        if (study->score->bars[bar].closes || study->score->bars[bar + 1].opens)
            return gain + AN_EDGE;
    return gain;
}

/* What speaks for an end before the nth tone. */
static int64_t gain_before(const muta_study *study, size_t nth)
{
    const muta_heard_tone *const last = muta_look_tone(study, nth - 1);
    const int64_t quarter = study->heard.quarter;
    const int64_t silence = muta_look_tone(study, nth)->from - last->to;
    const int64_t usual = usual_length(study, nth - 1);
    const int64_t length = until_next(study, nth - 1);
    int64_t gain = 0;

    gain += marks_behind(study, nth - 1);
    gain += silence > 0 ? at_most(A_REST * silence / quarter, A_REST) : 0;
    gain += usual > 0 && length > usual
                ? at_most(A_LONG_TONE * (length - usual) / usual, THE_LONGEST_TONE)
                : 0;
    switch (cadence_at(study, last->from)) {
    case MUTA_CADENCE_AUTHENTIC:
        gain += A_CADENCE;
        break;
    case MUTA_CADENCE_HALF:
    case MUTA_CADENCE_PLAGAL:
        gain += A_HALF_CADENCE;
        break;
    case MUTA_CADENCE_DECEPTIVE:
    case MUTA_CADENCE_NONE:
        break;
    }
    if (place_in_bar(study, muta_look_tone(study, nth)->from) ==
        place_in_bar(study, muta_look_tone(study, 0)->from))
        gain += ON_A_BAR;
    return gain;
}

/*
 * Phrases of four bars are the rule, of eight less common, of two rare, but where a bar is four
 * quarters and more; in eighths of a bar.
 */
static int64_t price_length(int64_t eighths, bool is_wide)
{
    const struct {
        int64_t eighths;
        int64_t cost;
    } usual[] = {{32, 0},
                 {64, 2500},
                 {48, 2600},
                 {40, 2700},
                 {16, is_wide ? 0 : 3800},
                 {24, is_wide ? 200 : 4000}};
    int64_t least = INT64_MAX;

    for (size_t i = 0; i < MUTA_LENGTH(usual); i++) {
        const int64_t cost = usual[i].cost + AWAY * llabs(eighths - usual[i].eighths);
        least = cost < least ? cost : least;
    }
    return least;
}

/* A bar as it is at a moment, or four quarters where there is none. */
static int64_t bar_length(const muta_study *study, int64_t at)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, at);
    const int64_t length = bar->beat * bar->beats;

    return length > 0 ? length : 4 * study->heard.quarter;
}

static muta_status add_phrase(muta_study *study, size_t first, size_t end)
{
    muta_phrase *const phrase = MUTA_PUSH(&study->arena, &study->phrases);

    if (!phrase)
        return MUTA_E_MEMORY;
    *phrase = (muta_phrase){
        .from = muta_look_tone(study, first)->from,
        .to = muta_look_tone(study, end - 1)->to,
        .first = (uint32_t)first,
        .end = (uint32_t)end,
        .cadence = cadence_at(study, muta_look_tone(study, end - 1)->from),
    };
    return MUTA_OK;
}

/* The best ends, as the tone with which each phrase begins. */
static void search(const muta_study *study, int64_t *costs, uint32_t *begins)
{
    const size_t count = study->tune.count;

    for (size_t end = 1; end <= count; end++) {
        const int64_t gain = end < count ? gain_before(study, end) : 0;
        costs[end] = INT64_MAX;
        for (size_t first = end; first > 0; first--) {
            const int64_t from = muta_look_tone(study, first - 1)->from;
            const int64_t to =
                end < count ? muta_look_tone(study, end)->from : muta_look_tone(study, end - 1)->to;
            const int64_t eighths = (to - from) * 8 / bar_length(study, from);
            if (eighths > LONGEST_EIGHTHS && first < end)
                break;
            const int64_t cost =
                costs[first - 1] + EACH_PHRASE +
                price_length(eighths, bar_length(study, from) >= 4 * study->heard.quarter) - gain;
            if (cost < costs[end]) {
                costs[end] = cost;
                begins[end] = (uint32_t)(first - 1);
            }
        }
    }
}

/* ---- which are alike ---- */

/* The share of a phrase's tones, in hundredths, that another has at the same time from its start.
 */
static int likeness(const muta_study *study, const muta_phrase *a, const muta_phrase *b)
{
    int64_t same = 0;
    uint32_t j = b->first;

    for (uint32_t i = a->first; i < a->end; i++) {
        const muta_heard_tone *const one = muta_look_tone(study, i);
        while (j < b->end && muta_look_tone(study, j)->from - b->from < one->from - a->from)
            j++;
        same += j < b->end && muta_look_tone(study, j)->from - b->from == one->from - a->from &&
                muta_look_tone(study, j)->place == one->place;
    }
    const uint32_t more =
        a->end - a->first > b->end - b->first ? a->end - a->first : b->end - b->first;
    return (int)(same * 100 / more);
}

static void name_phrases(muta_study *study)
{
    enum {
        ALIKE = 60, /* hundredths: a', a */
        EQUAL = 95
    };
    char next = 'a';

    for (size_t i = 0; i < study->phrases.count; i++) {
        muta_phrase *const phrase = &study->phrases.at[i];
        const muta_phrase *model = NULL;
        int best = ALIKE - 1;
        for (size_t j = 0; j < i; j++) {
            const int alike = likeness(study, &study->phrases.at[j], phrase);
            if (alike > best) {
                best = alike;
                model = &study->phrases.at[j];
            }
        }
        phrase->letter = next;
        if (model) {
            phrase->letter = model->letter;
            phrase->primes = (uint8_t)(model->primes + (best < EQUAL && model->primes < 9));
        }
        if (!model && next < 'z')
            next++;
        const muta_phrase *const before = i > 0 ? phrase - 1 : NULL;
        phrase->is_answer = before && before->cadence == MUTA_CADENCE_HALF &&
                            phrase->cadence == MUTA_CADENCE_AUTHENTIC;
    }
}

muta_status muta_phrases_find(muta_study *study)
{
    const size_t count = study->tune.count;
    int64_t *const costs = calloc(count + 1, sizeof *costs);
    uint32_t *const begins = calloc(count + 1, sizeof *begins);
    uint32_t *const ends = calloc(count + 1, sizeof *ends);
    muta_status status = costs && begins && ends ? MUTA_OK : MUTA_E_MEMORY;
    size_t phrases = 0;

    if (status == MUTA_OK && count > 0) {
        search(study, costs, begins);
        for (size_t end = count; end > 0; end = begins[end])
            ends[phrases++] = (uint32_t)end;
        for (size_t i = phrases; status == MUTA_OK && i > 0; i--)
            status = add_phrase(study, begins[ends[i - 1]], ends[i - 1]);
    }
    if (status == MUTA_OK)
        name_phrases(study);
    free(costs);
    free(begins);
    free(ends);
    return status;
}

bool muta_study_closes(const muta_study *study, uint32_t part, uint32_t note)
{
    const muta_weave *const work = &study->passage->work;

    for (size_t i = 0; i < study->phrases.count; i++) {
        const muta_phrase *const phrase = &study->phrases.at[i];
        for (uint32_t nth = phrase->end; nth > phrase->first && nth + 2 > phrase->end; nth--) {
            const muta_heard_tone *const tone = muta_look_tone(study, nth - 1);
            if (work->lines.at[tone->line].part == part &&
                work->events.at[tone->event].written.source == note)
                return true;
        }
    }
    return false;
}
