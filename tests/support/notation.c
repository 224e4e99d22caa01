/* notation.c: the cases' notation to MusicXML and back. */
#include "support/notation.h"
#include "base/text.h"
#include "score/model.h"
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

/* One word: tones joined with +, a colon, a duration; or a bar line. */
static bool put_event(FILE *to, char *word, int *bar)
{
    char *const colon = strchr(word, ':');
    muta_fraction quarters;
    muta_pitch pitch;
    bool chord = false;

    if (strcmp(word, "|") == 0) {
        (void)fprintf(to, "</measure><measure number=\"%d\">", ++*bar);
        return true;
    }
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
        (void)fprintf(to, "<duration>%" PRId64 "</duration></note>", divisions.top);
    }
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

muta_score *notation_read(const char *line)
{
    char *text = NULL;
    size_t length;
    muta_key key;
    muta_score *score = NULL;
    int64_t beats = 4;
    int64_t beat_type = 4;
    int bar = 1;
    char *const copy = strdup(line);
    char *const head = strtok(copy, ")");
    char *rest = head + strlen(head) + 1;
    FILE *const to = open_memstream(&text, &length);
    bool good = read_head(head, &key, &beats, &beat_type);

    (void)fprintf(to,
                  "<score-partwise><part-list><score-part id=\"P1\"><part-name>Tune</part-name>"
                  "</score-part></part-list><part id=\"P1\"><measure number=\"1\"><attributes>"
                  "<divisions>%d</divisions><key><fifths>%d</fifths></key><time><beats>%" PRId64
                  "</beats><beat-type>%" PRId64 "</beat-type></time></attributes>",
                  DIVISIONS, good ? key.fifths : 0, beats, beat_type);
    for (char *word; good && (word = strtok_r(rest, " ", &rest));)
        good = put_event(to, word, &bar);
    (void)fputs("</measure></part></score-partwise>", to);
    (void)fclose(to);
    if (good && muta_score_read_bytes(text, length, &score, NULL) != MUTA_OK)
        score = NULL;
    free(text);
    free(copy);
    return score;
}

const char *notation_print(const muta_score *score, char *text, size_t room)
{
    const muta_part *const part = &score->parts[0];
    char name[MUTA_KEY_TEXT];
    char pitch[MUTA_PITCH_TEXT];
    char time[MUTA_FRACTION_TEXT];
    size_t used;

    muta_key_print((muta_key){part->keys.at[0].key.fifths, MUTA_MAJOR}, name);
    const muta_bar *const bar = &score->bars[0];
    const muta_fraction beats =
        muta_fraction_multiply(bar->metre.length, muta_fraction_of(bar->metre.beat_type, 4));
    used = (size_t)snprintf(text, room, "(%.*s %" PRId64 "/%" PRId64 ")", (int)strcspn(name, " "),
                            name, beats.top, bar->metre.beat_type);
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
