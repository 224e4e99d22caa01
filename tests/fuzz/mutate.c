/*
 * mutate.c SCORE [COUNT]: the demo score and those of the corpora, each damaged by seed in some
 * places (bytes changed, cut out, said twice, numbers made absurd), then read, varied and written.
 * Whatever comes of it: no crash, no leak (which ASan tells), no status but 65 for what is refused,
 * and what is written is read again.
 */
#include "support/corpus.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static size_t read_well;
static size_t varied;
static size_t refused;
static size_t failed;

static const char *const absurd[] = {"0", "-1",   "999999999999", "1e9", "",   "0.0001",
                                     "x", "-7/2", "2147483648",   "NaN", "99", "\xc3\xa9"};

/* Replaces the text between a > and a < somewhere by something absurd. */
static void make_absurd(char *xml, size_t *length, uint64_t *seed)
{
    char *from = memchr(xml + corpus_random(seed, *length), '>', *length / 2);
    const char *const word = absurd[corpus_random(seed, MUTA_LENGTH(absurd))];

    if (!from || from >= xml + *length)
        return;
    from++;
    char *const to = memchr(from, '<', (size_t)(xml + *length - from));
    if (!to)
        return;
    memmove(from + strlen(word), to, (size_t)(xml + *length - to));
    memcpy(from, word, strlen(word));
    *length = *length + strlen(word) - (size_t)(to - from);
}

/* Damages a copy, which has room for twice its length. */
static void damage(char *xml, size_t *length, uint64_t *seed)
{
    for (uint64_t left = 1 + corpus_random(seed, 4); left > 0 && *length > 64; left--) {
        const size_t at = corpus_random(seed, *length - 32);
        const size_t run = 1 + corpus_random(seed, 24);
        switch (corpus_random(seed, 6)) {
        case 0:
            xml[at] = (char)corpus_random(seed, 256);
            break;
        case 1:
            memmove(xml + at, xml + at + run, *length - at - run);
            *length -= run;
            break;
        case 2:
            memmove(xml + at + run, xml + at, *length - at);
            *length += run;
            break;
        default:
            make_absurd(xml, length, seed);
            break;
        }
    }
}

static void complain(const char *path, uint64_t seed, const char *what, muta_status status)
{
    printf("FAILED %s, seed %llu: %s (status %d)\n", corpus_name(path), (unsigned long long)seed,
           what, (int)status);
    failed++;
}

static void try_one(const char *path, const char *xml, size_t length, const char *line,
                    muta_place_of_result to, uint64_t seed)
{
    const muta_setting setting = {.seed = 1, .takes = 1, .to = to};
    muta_score *score = NULL;
    muta_score *again = NULL;
    muta_chain *chain = NULL;
    char *out = NULL;
    size_t out_length;
    muta_status status = muta_score_read_bytes(xml, length, &score, NULL);

    if (status != MUTA_OK) {
        refused++;
        if (status != MUTA_E_DATA && status != MUTA_E_RANGE)
            complain(path, seed, "reading", status);
        return;
    }
    read_well++;
    if (muta_chain_parse(line, &chain, NULL) != MUTA_OK)
        abort();
    status = muta_chain_run_as(chain, score, &setting, NULL, NULL);
    if (status == MUTA_OK)
        varied++;
    else if (status != MUTA_E_DATA && status != MUTA_E_RANGE)
        complain(path, seed, "varying", status);
    /* After a failure the score is good for nothing but to be freed. */
    const bool varies = status == MUTA_OK;
    if (varies)
        status = muta_score_write_bytes(score, &out, &out_length);
    if (varies && status == MUTA_OK)
        status = muta_score_read_bytes(out, out_length, &again, NULL);
    if (varies && status != MUTA_OK)
        complain(path, seed, "reading again", status);
    muta_score_free(again);
    free(out);
    muta_chain_free(chain);
    muta_score_free(score);
}

/* By turns a line with settings of its own, a pass with its defaults, and two passes. */
static const char *line_of(size_t nth, uint64_t *seed, char *text, size_t room)
{
    static const char *const lines[] = {
        "transpose by=M3",
        "transpose to=Db",
        "transpose by=-m6 where=1:#1.1-#2 keys=stay",
        "transpose by=A4 kind=tonal",
        "retrograde where=*",
        "augment by=3/2",
        "diminish where=1 tempo=scale",
        "sequence where=1:#1 others=repeat",
        "invert where=1:#1.2-#2 | rotate of=all",
        "fragment notes=2-3 as=thicken times=3",
        "augment where=1:#1 others=stretch",
    };
    const size_t passes = muta_pass_count();

    if (nth % 3 == 0)
        return lines[nth / 3 % MUTA_LENGTH(lines)];
    (void)snprintf(text, room, nth % 3 == 1 ? "%s" : "%s | %s",
                   muta_pass_at(corpus_random(seed, passes))->name,
                   muta_pass_at(corpus_random(seed, passes))->name);
    return text;
}

static void try_score(const char *path, size_t count)
{
    static const muta_place_of_result places[] = {MUTA_IN_PLACE, MUTA_APPEND, MUTA_ONLY,
                                                  MUTA_BESIDE};
    static size_t nth;
    size_t length;
    char *const xml = corpus_xml(path, &length);

    for (size_t i = 0; xml && length < 300000 && i < count; i++) {
        uint64_t seed = i * 7919 + length;
        size_t damaged = length;
        char *const copy = malloc(length * 2 + 4096);
        memcpy(copy, xml, length);
        damage(copy, &damaged, &seed);
        char text[96];
        const char *const line = line_of(nth++, &seed, text, sizeof text);
        try_one(path, copy, damaged, line, places[corpus_random(&seed, MUTA_LENGTH(places))],
                i * 7919 + length);
        free(copy);
    }
    free(xml);
}

int main(int count, char **arguments)
{
    const size_t each = count > 2 ? strtoul(arguments[2], NULL, 10) : 4;
    corpus scores = corpus_find(false);

    if (count > 1)
        try_score(arguments[1], each * 50);
    for (size_t i = 0; i < scores.count; i++)
        try_score(scores.paths[i], each);
    printf("%zu damaged scores read, %zu of them varied, %zu refused; %zu failed\n", read_well,
           varied, refused, failed);
    corpus_free(&scores);
    return failed > 0 || read_well == 0 || refused == 0;
}
