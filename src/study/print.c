/* print.c: a study as a page for a person. */
#include "base/buffer.h"
#include "mutanza/score.h"
#include "study/study.h"
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

struct page {
    const muta_study *study;
    muta_buffer text;
    muta_status status;
};

enum {
    NAME = 32,
    MOST = 8 /* of what a line lists */
};

__attribute__((format(printf, 2, 3))) static void say(struct page *page, const char *format, ...)
{
    char line[512];
    va_list values;

    va_start(values, format);
    const int length = vsnprintf(line, sizeof line, format, values);
    va_end(values);
    if (page->status == MUTA_OK && length > 0)
        page->status = muta_buffer_put(
            &page->text, line, (size_t)length < sizeof line ? (size_t)length : sizeof line - 1);
}

static const char *key_name(const muta_heard_key *key, char *text)
{
    char tonic[MUTA_CLASS_TEXT];

    (void)snprintf(text, NAME, "%s %s", muta_fifths_print(key->fifths, tonic),
                   muta_mode_name(key->scale));
    return text;
}

/* `F#m7b5/A`, as lead sheets have it. */
static const char *chord_name(const muta_heard_chord *chord, char *text)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
    char root[MUTA_CLASS_TEXT];
    char bass[MUTA_CLASS_TEXT];

    (void)muta_fifths_print(chord->value.root, root);
    (void)muta_fifths_print(chord->value.root + row->fifths[chord->value.bass], bass);
    (void)snprintf(text, NAME, "%s%s%s%s", root, row->symbol, chord->value.bass ? "/" : "",
                   chord->value.bass ? bass : "");
    return text;
}

static const char *tone_name(const muta_study *study, uint32_t index, char *text)
{
    const muta_heard_tone *const tone = &study->heard.tones.at[index];

    return muta_pitch_print(study->passage->work.tones.at[tone->tone].pitch, text);
}

static const char *bar_name(const muta_study *study, int64_t at)
{
    return study->score->bars[muta_heard_bar_at(&study->heard, at)->index].number;
}

static void say_metre(struct page *page)
{
    const muta_heard *const heard = &page->study->heard;
    const muta_heard_bar *const first = heard->bars.at;
    const muta_metre *const metre = &page->study->score->bars[first->index].metre;
    const muta_fraction beats =
        muta_fraction_multiply(metre->length, muta_fraction_of(metre->beat_type, 4));

    if (*muta_score_title(page->study->score))
        say(page, "%.200s\n\n", muta_score_title(page->study->score));
    say(page, "Length     %zu bars", heard->bars.count);
    if (muta_fraction_is_valid(beats) && beats.bottom == 1)
        say(page, " in %" PRId64 "/%" PRId64, beats.top, metre->beat_type);
    if (first->offset > 0)
        say(page, ", with an upbeat");
    say(page, "\n");
}

static void say_keys(struct page *page)
{
    const muta_study *const study = page->study;
    const muta_heard_key *const home = muta_look_home(study);
    char text[NAME];

    if (!home)
        return;
    say(page, "Key        %s (%" PRId32 " %% sure)", key_name(home, text), home->confidence / 10);
    for (size_t i = 0; i < study->keys.count && i < MOST && study->keys.count > 1; i++)
        say(page, "%s%s from bar %s", i == 0 ? "; " : ", ", key_name(&study->keys.at[i], text),
            bar_name(study, study->keys.at[i].from));
    say(page, "%s\n", study->keys.count > MOST ? " and so on" : "");
}

static void say_line(struct page *page, uint32_t index)
{
    const muta_study *const study = page->study;
    const muta_line *const line = &study->passage->work.lines.at[index];
    const muta_part *const part = &study->score->parts[line->part];

    say(page, "%s", part->name);
    if (part->staves > 1)
        say(page, ", staff %u", line->staff);
    if (muta_score_voice_count(study->score, line->part, line->staff) > 1)
        say(page, ", voice %zu", muta_part_voice_number(part, line->voice));
}

static void say_bars(struct page *page, const muta_lead *lead)
{
    say(page, " (bars %s-%s)", bar_name(page->study, lead->from),
        bar_name(page->study, lead->to - 1));
}

static void say_leads(struct page *page, const char *name, const muta_leads *leads)
{
    say(page, "%-10s ", name);
    for (size_t i = 0; i < leads->count && i < MOST; i++) {
        say(page, "%s", i ? ", " : "");
        say_line(page, leads->at[i].line);
        if (leads->count > 1)
            say_bars(page, &leads->at[i]);
    }
    say(page, "%s\n", leads->count > MOST ? " and so on" : "");
}

static void say_companions(struct page *page)
{
    const muta_study *const study = page->study;

    for (size_t i = 0; i < study->companions.count && i < MOST; i++) {
        const muta_companion *const companion = &study->companions.at[i];
        say(page, "%s", i ? ", " : "With it    ");
        say_line(page, companion->lead.line);
        say_bars(page, &companion->lead);
        say(page, "%s", companion->is_parallel ? " in parallel" : "");
    }
    if (study->companions.count > 0)
        say(page, "%s\n", study->companions.count > MOST ? " and so on" : "");
}

static void say_shape(struct page *page)
{
    const muta_profile *const profile = &page->study->profile;
    const int64_t quarter = page->study->heard.quarter;
    const muta_heard *const heard = &page->study->heard;
    static const char *const courses[] = {[MUTA_CONTOUR_LEVEL] = "level",
                                          [MUTA_CONTOUR_RISING] = "rising",
                                          [MUTA_CONTOUR_FALLING] = "falling",
                                          [MUTA_CONTOUR_ARCH] = "an arch",
                                          [MUTA_CONTOUR_VALLEY] = "a valley"};
    char low[MUTA_PITCH_TEXT];
    char high[MUTA_PITCH_TEXT];
    uint32_t lowest = 0;
    uint32_t highest = 0;

    for (size_t i = 0; i < page->study->tune.count; i++) {
        const uint32_t at = page->study->tune.at[i];
        if (i == 0 || heard->tones.at[at].midi < heard->tones.at[lowest].midi)
            lowest = at;
        if (i == 0 || heard->tones.at[at].midi > heard->tones.at[highest].midi)
            highest = at;
    }
    say(page, "Its shape  %" PRId64 " tones from %s to %s", profile->notes,
        tone_name(page->study, lowest, low), tone_name(page->study, highest, high));
    if (profile->intervals > 0)
        say(page, "; %" PRId64 " %% steps, %" PRId64 " %% leaps",
            profile->steps * 100 / profile->intervals, profile->leaps * 100 / profile->intervals);
    if (heard->end > 0)
        say(page, "; %" PRId64 ".%" PRId64 " tones a quarter",
            profile->notes * quarter / heard->end, profile->notes * quarter * 10 / heard->end % 10);
    say(page, "; its course is %s\n", courses[profile->contour]);
}

/* How fast the chords change. */
static void say_harmonic_rhythm(struct page *page)
{
    const muta_study *const study = page->study;
    const size_t bars = study->heard.bars.count;

    if (bars > 0)
        say(page, "Chords     %zu, %zu.%zu a bar\n", study->chords.count,
            study->chords.count / bars, study->chords.count * 10 / bars % 10);
}

static void say_numerals(struct page *page, const muta_phrase *phrase)
{
    const muta_study *const study = page->study;
    const char *bar = "";
    char name[NAME];
    char numeral[NAME];

    for (size_t i = 0; i < study->chords.count; i++) {
        const muta_heard_chord *const chord = &study->chords.at[i];
        const muta_heard_key *const key = muta_look_key(study, chord->from);
        if (chord->to <= phrase->from || chord->from >= phrase->to || !key)
            continue;
        const char *const at = bar_name(study, chord->from);
        say(page, "%s%s %s", strcmp(at, bar) == 0 ? "  " : " | ", chord_name(chord, name),
            muta_numeral_print(&chord->value, key->fifths, key->key >= MUTA_CLASSES, numeral,
                               sizeof numeral));
        bar = at;
    }
}

static void say_phrases(struct page *page)
{
    const muta_study *const study = page->study;

    say(page, "\nPhrases\n");
    for (size_t i = 0; i < study->phrases.count; i++) {
        const muta_phrase *const phrase = &study->phrases.at[i];
        char name[NAME] = {phrase->letter, '\0'};
        memset(name + 1, '\'', phrase->primes);
        say(page, "  %-4s bars %s-%s", name, bar_name(study, phrase->from),
            bar_name(study, phrase->to - 1));
        if (phrase->cadence != MUTA_CADENCE_NONE)
            say(page, ", %s cadence", muta_cadence_names[phrase->cadence]);
        if (phrase->is_answer)
            say(page, ", which answers the phrase before");
        say(page, "\n      ");
        say_numerals(page, phrase);
        say(page, "\n");
    }
}

/* Each motif by its tones, with the bars in which it comes back. */
static void say_motifs(struct page *page)
{
    const muta_study *const study = page->study;
    char text[MUTA_PITCH_TEXT];

    for (size_t i = 0; i < study->motifs.count; i++) {
        const muta_motif *const motif = &study->motifs.at[i];
        say(page, "%sm%zu ", i == 0 ? "\nMotifs\n  " : "  ", i + 1);
        for (uint32_t j = motif->first; j < motif->first + motif->count; j++)
            say(page, " %s", tone_name(study, study->tune.at[j], text));
        say(page, ", bars");
        for (size_t j = 0; j < motif->places.count && j < MOST; j++) {
            const muta_motif_place *const place = &motif->places.at[j];
            const bool is_plain = place->form == MUTA_MOTIF_SAME;
            say(page, "%s %s%s%s", j ? "," : "",
                bar_name(study, muta_look_tone(study, place->first)->from), is_plain ? "" : " ",
                is_plain ? "" : muta_motif_names[place->form]);
        }
        say(page, "%s\n", motif->places.count > MOST ? " and so on" : "");
    }
}

static void say_skeleton(struct page *page)
{
    const muta_study *const study = page->study;
    char text[MUTA_PITCH_TEXT];

    say(page, "\nSkeleton   ");
    for (size_t i = 0; i < study->tune.count; i++)
        if (study->depths[i] >= 3)
            say(page, " %s", tone_name(study, study->tune.at[i], text));
    say(page, "\n");
}

/* What a composer may not have noticed. */
static void say_unusual(struct page *page)
{
    const muta_study *const study = page->study;
    const muta_profile *const profile = &study->profile;
    size_t suspensions = 0;
    size_t sixths = 0;

    for (size_t i = 0; i < study->heard.tones.count; i++)
        suspensions += study->nonchords[i] == MUTA_SUSPENSION;
    for (size_t i = 0; i < study->chords.count; i++)
        sixths += study->chords.at[i].value.kind >= MUTA_CHORD_ITALIAN;
    if (profile->sounding > 0 && profile->chromatic * 10 > profile->sounding)
        say(page, "Unusual    a tenth of the tune and more lies outside its key\n");
    if (profile->notes > 0 && profile->syncopated * 4 > profile->notes)
        say(page, "Unusual    a quarter of its tones and more are syncopated\n");
    for (size_t i = 0; i < study->hemiolas.count && i < MOST; i++)
        say(page, "Hemiola    bars %s-%s\n", bar_name(study, study->hemiolas.at[i].from),
            bar_name(study, study->hemiolas.at[i].to - 1));
    if (suspensions > 0)
        say(page, "Suspended  %zu tone%s over a new chord\n", suspensions,
            suspensions == 1 ? " is held" : "s are held");
    if (sixths > 0)
        say(page, "Unusual    %zu augmented sixth chord%s\n", sixths, sixths == 1 ? "" : "s");
}

muta_status muta_study_print(const muta_study *study, char **text)
{
    struct page page = {.study = study, .status = MUTA_OK};

    if (study->heard.tones.count == 0) {
        say(&page, "There is nothing here that has a pitch.\n");
    } else {
        say_metre(&page);
        say_keys(&page);
        say_leads(&page, "Tune", &study->tune_leads);
        say_companions(&page);
        say_shape(&page);
        say_leads(&page, "Bass", &study->bass_leads);
        say_harmonic_rhythm(&page);
        say_phrases(&page);
        say_motifs(&page);
        say_skeleton(&page);
        say_unusual(&page);
    }
    if (page.status == MUTA_OK)
        page.status = muta_buffer_put(&page.text, "", 1);
    if (page.status == MUTA_OK)
        *text = page.text.at;
    return page.status;
}
