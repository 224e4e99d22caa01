/* lay.c: what was heard, laid into a passage for passes to work with. */
#include "study/study.h"
#include <stdlib.h>

/* A study on its way into a passage of the same score. */
struct laying {
    const muta_study *study;
    muta_passage *passage;
    uint32_t **tones;    /* by part and written note: the tone of `heard`, from 1; 0 for none */
    muta_fraction start; /* of the passage in the score */
};

/* Which written note begins each tone that was heard. */
static bool find_tones(struct laying *laying)
{
    const muta_study *const study = laying->study;
    const muta_weave *const work = &study->passage->work;

    laying->tones = muta_arena_take_array(&laying->passage->arena, study->score->part_count,
                                          sizeof(uint32_t *));
    if (!laying->tones)
        return false;
    for (size_t i = 0; i < study->score->part_count; i++) {
        laying->tones[i] = muta_arena_take_array(
            &laying->passage->arena, study->score->parts[i].notes.count + 1, sizeof(uint32_t));
        if (!laying->tones[i])
            return false;
    }
    for (size_t i = 0; i < study->heard.tones.count; i++) {
        const muta_tone *const tone = &work->tones.at[study->heard.tones.at[i].tone];
        laying->tones[work->lines.at[tone->line].part][tone->source] = (uint32_t)i + 1;
    }
    return true;
}

/* The tone of `heard` that an event's highest tone is; NULL when it was not heard. */
static const muta_heard_tone *heard_of(const struct laying *laying, const muta_event *event,
                                       uint32_t part)
{
    const muta_tone *const tone =
        &laying->passage->work.tones.at[event->tone + event->tone_count - 1];
    const uint32_t nth = event->is_grace ? 0 : laying->tones[part][tone->source];

    return nth ? &laying->study->heard.tones.at[nth - 1] : NULL;
}

/* What the events of a line are in the skeleton of its upper edge. */
static void lay_line(struct laying *laying, const muta_line *line, uint32_t *melody,
                     uint8_t *depths)
{
    muta_weave *const work = &laying->passage->work;
    const muta_heard_tone *const all = laying->study->heard.tones.at;
    size_t count = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_heard_tone *const tone = heard_of(laying, &work->events.at[i], line->part);
        if (tone)
            melody[count++] = (uint32_t)(tone - all);
    }
    muta_skeleton_of(laying->study, melody, count, depths);
    count = 0;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        muta_event *const event = &work->events.at[i];
        const muta_heard_tone *const tone = heard_of(laying, event, line->part);
        if (!tone)
            continue;
        const muta_nonchord why = (muta_nonchord)laying->study->nonchords[tone - all];
        event->depth = depths[count++];
        event->level = tone->level;
        event->leans = why == MUTA_APPOGGIATURA || why == MUTA_SUSPENSION ||
                       (why != MUTA_CHORD_TONE && tone->level == MUTA_LEVEL_BAR &&
                        muta_motion_is_step(tone->left));
    }
}

/* Which phrase each event of a line is in, and which it is the last of. */
static void lay_phrases(struct laying *laying, const muta_line *line)
{
    const muta_study *const study = laying->study;
    muta_weave *const work = &laying->passage->work;
    muta_event *last = NULL;
    size_t nth = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        muta_event *const event = &work->events.at[i];
        const muta_fraction at = muta_fraction_add(laying->start, event->onset);
        if (event->is_grace)
            continue;
        while (nth + 1 < study->phrases.count &&
               muta_fraction_compare(
                   muta_heard_time(&study->heard, study->phrases.at[nth + 1].from), at) <= 0)
            nth++;
        event->phrase = (uint16_t)nth;
        if (last && last->phrase != event->phrase)
            last->closes = true;
        last = event;
    }
    if (last)
        last->closes = true;
    /* In every voice a fermata is an end. */
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        muta_event *const event = &work->events.at[i];
        if (!event->is_grace &&
            (muta_part_tied_flags(&study->score->parts[line->part], event->written.source) &
             MUTA_NOTE_FERMATA))
            event->closes = true;
    }
}

/* Which line holds most of the marked tones. */
static muta_line *line_of_most(muta_weave *work, bool (*is_marked)(const muta_tone *))
{
    muta_line *found = NULL;
    size_t most = 0;

    for (size_t i = 0; i < work->lines.count; i++) {
        muta_line *const line = &work->lines.at[i];
        size_t count = 0;
        for (uint32_t j = line->event; j < line->event + line->event_count; j++)
            for (uint32_t k = 0; k < work->events.at[j].tone_count; k++)
                count += is_marked(&work->tones.at[work->events.at[j].tone + k]);
        if (count > most) {
            most = count;
            found = line;
        }
    }
    return found;
}

static bool is_of_tune(const muta_tone *tone)
{
    return tone->is_tune;
}

static bool is_of_bass(const muta_tone *tone)
{
    return tone->is_bass;
}

/* Marks the tones of the lines that go with the tune in parallel. */
static void mark_companions(const muta_study *study, uint8_t mark, uint8_t *marks)
{
    const muta_heard_tone *const tones = study->heard.tones.at;

    for (size_t i = 0; i < study->companions.count; i++) {
        const muta_companion *const companion = &study->companions.at[i];
        size_t nth = muta_heard_find(tones, study->heard.tones.count, sizeof *tones,
                                     companion->lead.from - 1);
        for (; companion->is_parallel && nth < study->heard.tones.count &&
               tones[nth].from < companion->lead.to;
             nth++)
            if (tones[nth].line == companion->lead.line && tones[nth].from >= companion->lead.from)
                marks[nth] |= mark;
    }
}

/* Which tones are the tune's, its companions' and the bass's, and which lines have most of them. */
static bool lay_voices(struct laying *laying)
{
    enum {
        TUNE = 1,
        BASS = 2,
        COMPANION = 4
    };
    const muta_study *const study = laying->study;
    muta_weave *const work = &laying->passage->work;
    uint8_t *const marks = muta_arena_take(&laying->passage->arena, study->heard.tones.count + 1);

    if (!marks)
        return false;
    for (size_t i = 0; i < study->tune.count; i++)
        marks[study->tune.at[i]] |= TUNE;
    for (size_t i = 0; i < study->bass.count; i++)
        marks[study->bass.at[i]] |= BASS;
    mark_companions(study, COMPANION, marks);
    for (size_t i = 0; i < work->tones.count; i++) {
        muta_tone *const tone = &work->tones.at[i];
        const uint32_t nth = laying->tones[work->lines.at[tone->line].part][tone->source];
        tone->is_tune = nth && (marks[nth - 1] & TUNE);
        tone->is_bass = nth && (marks[nth - 1] & BASS);
        tone->is_companion = nth && (marks[nth - 1] & COMPANION);
    }
    muta_line *const tune = line_of_most(work, is_of_tune);
    muta_line *const bass = line_of_most(work, is_of_bass);
    if (tune)
        tune->is_tune = true;
    if (bass)
        bass->is_bass = true;
    return true;
}

static bool lay_lines(struct laying *laying)
{
    muta_weave *const work = &laying->passage->work;
    uint32_t *const melody =
        muta_arena_take_array(&laying->passage->arena, work->events.count + 1, sizeof *melody);
    uint8_t *const depths = muta_arena_take(&laying->passage->arena, work->events.count + 1);

    for (size_t i = 0; melody && depths && i < work->lines.count; i++) {
        lay_line(laying, &work->lines.at[i], melody, depths);
        lay_phrases(laying, &work->lines.at[i]);
    }
    return melody && depths;
}

/* From which confidence a key counts, in thousandths: a tune alone only hints at its keys. */
static int32_t surely(const muta_study *study)
{
    enum {
        SURE = 600,
        SURE_ALONE = 850
    };

    return study->passage->work.lines.count > 1 ? SURE : SURE_ALONE;
}

static bool lay_chords(const struct laying *laying)
{
    const muta_study *const study = laying->study;
    const int32_t sure = surely(study);
    muta_passage_chord *const chords =
        muta_arena_take_array(&laying->passage->arena, study->chords.count + 1, sizeof *chords);

    for (size_t i = 0; chords && i < study->chords.count; i++) {
        const muta_heard_chord *const from = &study->chords.at[i];
        const muta_heard_key *const key = muta_look_key(study, from->from);
        chords[i] = (muta_passage_chord){
            .from =
                muta_fraction_subtract(muta_heard_time(&study->heard, from->from), laying->start),
            .to = muta_fraction_subtract(muta_heard_time(&study->heard, from->to), laying->start),
            .value = from->value,
            .tonic = key ? key->fifths : from->value.root,
            .is_minor = key && key->key >= MUTA_CLASSES,
            .is_sure = key && key->confidence >= sure,
            .is_written = study->symbols && study->symbols[i],
        };
        /* What is written may hold more than is heard. */
        if (chords[i].is_written)
            (void)muta_chord_find(study->symbols[i], &chords[i].value.kind);
        muta_numeral_set(&chords[i]);
    }
    laying->passage->chords = chords;
    laying->passage->chord_count = chords ? study->chords.count : 0;
    return chords;
}

static muta_status lay(muta_passage *passage, const muta_study *study)
{
    struct laying laying = {.study = study,
                            .passage = passage,
                            .start = muta_fraction_add(study->score->bars[passage->from.bar].start,
                                                       passage->from.onset)};

    return find_tones(&laying) && lay_voices(&laying) && lay_lines(&laying) && lay_chords(&laying)
               ? MUTA_OK
               : MUTA_E_MEMORY;
}

muta_status muta_study_lay(muta_passage *passage, const muta_study *study)
{
    muta_study *own = NULL;

    if (study || passage->score->own_grids)
        return study ? lay(passage, study) : MUTA_OK;
    muta_status status = muta_study_new(passage->score, NULL, &own, NULL);
    if (status != MUTA_OK) /* what can only be guessed stays unheard */
        return status == MUTA_E_DATA ? MUTA_OK : status;
    status = lay(passage, own);
    muta_study_free(own);
    return status;
}

/* Whether two passages hold the same tones at the same times in the same lines. */
static bool are_alike(const muta_passage *a, const muta_passage *b)
{
    const muta_weave *const one = &a->work;
    const muta_weave *const two = &b->work;
    bool alike = one->lines.count == two->lines.count && one->events.count == two->events.count &&
                 one->tones.count == two->tones.count &&
                 muta_fraction_compare(a->length, b->length) == 0;

    for (size_t i = 0; alike && i < one->lines.count; i++)
        alike = one->lines.at[i].part == two->lines.at[i].part &&
                one->lines.at[i].voice == two->lines.at[i].voice &&
                one->lines.at[i].event_count == two->lines.at[i].event_count;
    for (size_t i = 0; alike && i < one->events.count; i++)
        alike = one->events.at[i].tone_count == two->events.at[i].tone_count &&
                muta_fraction_compare(one->events.at[i].onset, two->events.at[i].onset) == 0 &&
                muta_fraction_compare(one->events.at[i].duration, two->events.at[i].duration) == 0;
    for (size_t i = 0; alike && i < one->tones.count; i++)
        alike = muta_pitch_is_equal(one->tones.at[i].pitch, two->tones.at[i].pitch);
    return alike;
}

bool muta_study_lay_like(muta_passage *passage, const muta_passage *known)
{
    muta_weave *const work = &passage->work;

    if (known->chord_count == 0 || !are_alike(passage, known))
        return false;
    for (size_t i = 0; i < work->lines.count; i++) {
        work->lines.at[i].is_tune = known->work.lines.at[i].is_tune;
        work->lines.at[i].is_bass = known->work.lines.at[i].is_bass;
    }
    for (size_t i = 0; i < work->events.count; i++) {
        const muta_event *const from = &known->work.events.at[i];
        muta_event *const to = &work->events.at[i];
        to->depth = from->depth;
        to->level = from->level;
        to->leans = from->leans;
        to->closes = from->closes;
        to->phrase = from->phrase;
    }
    for (size_t i = 0; i < work->tones.count; i++) {
        work->tones.at[i].is_tune = known->work.tones.at[i].is_tune;
        work->tones.at[i].is_bass = known->work.tones.at[i].is_bass;
        work->tones.at[i].is_companion = known->work.tones.at[i].is_companion;
    }
    passage->chords = known->chords;
    passage->chord_count = known->chord_count;
    return true;
}
