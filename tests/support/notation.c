/* notation.c: the cases' notation to MusicXML and back. */
#include "support/notation.h"
#include "base/text.h"
#include "musicxml/symbol.h"
#include "score/model.h"
#include "theory/chord.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    DIVISIONS = 840
};

static void put_pitch(FILE *to, muta_pitch pitch)
{
    (void)fprintf(to, "<pitch><step>%c</step>", "CDEFGAB"[muta_pitch_step(pitch)]);
    if (pitch.alter)
        (void)fprintf(to, "<alter>%d</alter>", pitch.alter / MUTA_SEMITONE);
    (void)fprintf(to, "<octave>%d</octave></pitch>", muta_pitch_octave(pitch));
}

/* `[G:dominant]` */
static bool put_symbol(FILE *to, char *word)
{
    char *const colon = strchr(word, ':');
    char *const end = strchr(word, ']');

    if (!colon || !end)
        return false;
    *end = '\0';
    (void)fprintf(to, "<harmony><root><root-step>%c</root-step>", word[1]);
    if (colon - word > 2)
        (void)fprintf(to, "<root-alter>%d</root-alter>", word[2] == '#' ? 1 : -1);
    (void)fprintf(to, "</root><kind>%s</kind></harmony>", colon + 1);
    return true;
}

/* One word: tones joined with +, a colon, a duration; a symbol; or a bar line. */
static bool put_event(FILE *to, char *word, int *bar, bool *tied)
{
    char *const colon = strchr(word, ':');
    const size_t length = strlen(word);
    const bool ties = word[length - 1] == '~';
    muta_fraction quarters;
    muta_pitch pitch;
    bool chord = false;

    if (strcmp(word, "|") == 0) {
        (void)fprintf(to, "</measure><measure number=\"%d\">", ++*bar);
        return true;
    }
    if (word[0] == '[')
        return put_symbol(to, word);
    word[length - ties] = '\0';
    if (!colon || muta_fraction_parse(colon + 1, &quarters) != MUTA_OK)
        return false;
    *colon = '\0';
    const muta_fraction divisions = muta_fraction_scale(quarters, DIVISIONS);
    for (char *rest = word, *name; (name = strtok_r(rest, "+", &rest)); chord = true) {
        (void)fprintf(to, "<note>%s", chord ? "<chord/>" : "");
        if (strcmp(name, "r") == 0)
            (void)fputs("<rest/>", to);
        else if (muta_pitch_parse(name, &pitch) == MUTA_OK)
            put_pitch(to, pitch);
        else
            return false;
        (void)fprintf(to, "<duration>%" PRId64 "</duration>", divisions.top);
        (void)fprintf(to, "%s%s</note>", *tied ? "<tie type=\"stop\"/>" : "",
                      ties ? "<tie type=\"start\"/>" : "");
    }
    *tied = ties;
    return true;
}

/* Reads `(G 3/4`. */
static bool read_head(char *head, muta_key *key, int64_t *beats, int64_t *beat_type)
{
    char *const blank = strchr(head, ' ');

    if (head[0] != '(' || !blank)
        return false;
    *blank = '\0';
    const char *at = muta_text_count(blank + 1, beats);
    at = at && *at == '/' ? muta_text_count(at + 1, beat_type) : NULL;
    return at && muta_key_parse(head + 1, key) == MUTA_OK;
}

/* A part: its words up to the end. */
static bool put_part(FILE *to, int nth, char *words, const muta_key *key, int64_t beats,
                     int64_t beat_type)
{
    bool good = true;
    bool tied = false;
    int bar = 1;

    (void)fprintf(to,
                  "<part id=\"P%d\"><measure number=\"1\"><attributes><divisions>%d</divisions>"
                  "<key><fifths>%d</fifths></key><time><beats>%" PRId64
                  "</beats><beat-type>%" PRId64 "</beat-type></time></attributes>",
                  nth, DIVISIONS, key->fifths, beats, beat_type);
    for (char *word; good && (word = strtok_r(words, " ", &words));)
        good = put_event(to, word, &bar, &tied);
    (void)fputs("</measure></part>", to);
    return good;
}

muta_score *notation_read(const char *line)
{
    char *text = NULL;
    size_t length;
    muta_key key = {0, MUTA_MAJOR};
    muta_score *score = NULL;
    int64_t beats = 4;
    int64_t beat_type = 4;
    char *const copy = strdup(line);
    char *const head = strtok(copy, ")");
    char *rest = head + strlen(head) + 1;
    FILE *const to = open_memstream(&text, &length);
    bool good = read_head(head, &key, &beats, &beat_type);
    int parts = 1;

    for (const char *at = rest; *at; at++)
        parts += *at == ';';
    (void)fputs("<score-partwise><part-list>", to);
    for (int i = 1; i <= parts; i++)
        (void)fprintf(to, "<score-part id=\"P%d\"><part-name>%s</part-name></score-part>", i,
                      i == 1 ? "Tune" : "Other");
    (void)fputs("</part-list>", to);
    for (int i = 1; good && i <= parts; i++)
        good = put_part(to, i, strtok_r(rest, ";", &rest), &key, beats, beat_type);
    (void)fputs("</score-partwise>", to);
    (void)fclose(to);
    if (good && muta_score_read_bytes(text, length, &score, NULL) != MUTA_OK)
        score = NULL;
    free(text);
    free(copy);
    return score;
}

static void print_head(const muta_score *score, FILE *to)
{
    char name[MUTA_KEY_TEXT];
    const muta_metre *const metre = &score->bars[0].metre;
    const muta_fraction beats =
        muta_fraction_multiply(metre->length, muta_fraction_of(metre->beat_type, 4));

    muta_key_print((muta_key){score->parts[0].keys.at[0].key.fifths, MUTA_MAJOR}, name);
    (void)fprintf(to, "(%.*s %" PRId64 "/%" PRId64 ")", (int)strcspn(name, " "), name, beats.top,
                  metre->beat_type);
}

static void print_note(const muta_part *part, uint32_t index, FILE *to)
{
    const muta_note *const note = &part->notes.at[index];
    const bool more =
        index + 1 < part->notes.count && (part->notes.at[index + 1].flags & MUTA_NOTE_CHORD);
    char pitch[MUTA_PITCH_TEXT];
    char time[MUTA_FRACTION_TEXT];

    (void)fprintf(to, "%s%s", note->flags & MUTA_NOTE_CHORD ? "+" : " ",
                  note->flags & MUTA_NOTE_REST ? "r" : muta_pitch_print(note->pitch, pitch));
    if (!more)
        (void)fprintf(to, ":%s%s", muta_fraction_print(note->duration, time),
                      note->tied_to != MUTA_NO_NOTE ? "~" : "");
}

static void print_symbols(const muta_score *score, const muta_part *part, uint32_t bar,
                          muta_fraction onset, FILE *to)
{
    char pitch[MUTA_PITCH_TEXT];

    for (size_t i = 0; i < part->harmonies.count; i++) {
        const muta_harmony *const harmony = &part->harmonies.at[i];
        muta_symbol symbol;
        if (harmony->at.bar != bar || muta_fraction_compare(harmony->at.onset, onset) != 0 ||
            !muta_symbol_read(score, harmony, &symbol))
            continue;
        muta_pitch_print(muta_fifths_pitch(symbol.root, 4), pitch);
        pitch[strlen(pitch) - 1] = '\0';
        (void)fprintf(to, " [%s:%s]", pitch, symbol.kind);
    }
}

const char *notation_print_written(const muta_score *score, char *text, size_t room)
{
    FILE *const to = fmemopen(text, room, "w");

    print_head(score, to);
    for (size_t i = 0; i < score->part_count; i++) {
        const muta_part *const part = &score->parts[i];
        (void)fputs(i > 0 ? " ;" : "", to);
        for (uint32_t bar = 0; bar < part->bar_count; bar++) {
            (void)fputs(bar > 0 ? " |" : "", to);
            for (uint32_t j = part->bars[bar].first;
                 j < part->bars[bar].first + part->bars[bar].count; j++) {
                if (!(part->notes.at[j].flags & MUTA_NOTE_CHORD))
                    print_symbols(score, part, bar, part->notes.at[j].onset, to);
                print_note(part, j, to);
            }
        }
    }
    (void)fclose(to);
    return text;
}

const char *notation_print(const muta_score *score, char *text, size_t room)
{
    const muta_part *const part = &score->parts[0];
    char pitch[MUTA_PITCH_TEXT];
    char time[MUTA_FRACTION_TEXT];
    FILE *const to = fmemopen(text, room, "w");

    print_head(score, to);
    (void)fclose(to);
    size_t used = strlen(text);
    for (size_t i = 0; i < part->notes.count && used < room; i++) {
        const muta_note *const note = &part->notes.at[i];
        const bool rest = note->flags & MUTA_NOTE_REST;
        const bool chord = note->flags & MUTA_NOTE_CHORD;
        const bool more =
            i + 1 < part->notes.count && (part->notes.at[i + 1].flags & MUTA_NOTE_CHORD);
        muta_fraction lasts = note->duration;
        if (note->tied_from != MUTA_NO_NOTE)
            continue;
        for (uint32_t at = note->tied_to; at != MUTA_NO_NOTE; at = part->notes.at[at].tied_to)
            lasts = muta_fraction_add(lasts, part->notes.at[at].duration);
        while (rest && i + 1 < part->notes.count &&
               (part->notes.at[i + 1].flags & MUTA_NOTE_REST)) /* silence is one silence */
            lasts = muta_fraction_add(lasts, part->notes.at[++i].duration);
        used += (size_t)snprintf(text + used, room - used, "%s%s%s%s", chord ? "+" : " ",
                                 rest ? "r" : muta_pitch_print(note->pitch, pitch), more ? "" : ":",
                                 more ? "" : muta_fraction_print(lasts, time));
    }
    return text;
}

char *notation_vary(const char *xml, const char *line)
{
    muta_score *score = NULL;
    muta_chain *chain = NULL;
    char *out = NULL;
    size_t length;

    if (muta_score_read_bytes(xml, strlen(xml), &score, NULL) != MUTA_OK ||
        muta_chain_parse(line, &chain, NULL) != MUTA_OK ||
        muta_chain_run(chain, score, 1, NULL, NULL) != MUTA_OK ||
        muta_score_write_bytes(score, &out, &length) != MUTA_OK)
        out = NULL;
    muta_chain_free(chain);
    muta_score_free(score);
    return out;
}
