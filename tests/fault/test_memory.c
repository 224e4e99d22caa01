/*
 * test_memory.c FILE: the first, second, third ... allocation fails, of an arena or of the system,
 * until a whole run meets none. Each time the status is right and nothing leaks (which ASan tells).
 * Then the same for each pass with its defaults, and chains with several addresses.
 */
#include "base/arena.h"
#include "mutanza/mutanza.h"
#include "support/corpus.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- the system's memory: the linker leads malloc() and the others here ---- */

void *__real_malloc(size_t bytes);
void *__real_calloc(size_t count, size_t bytes);
void *__real_realloc(void *at, size_t bytes);
void *__wrap_malloc(size_t bytes);
void *__wrap_calloc(size_t count, size_t bytes);
void *__wrap_realloc(void *at, size_t bytes);

static _Thread_local long system_left = -1; /* until one fails; below 0: none does */

static bool system_fails(void)
{
    return system_left > 0 ? --system_left == 0 : false;
}

void *__wrap_malloc(size_t bytes)
{
    return system_fails() ? NULL : __real_malloc(bytes);
}

void *__wrap_calloc(size_t count, size_t bytes)
{
    return system_fails() ? NULL : __real_calloc(count, bytes);
}

void *__wrap_realloc(void *at, size_t bytes)
{
    return system_fails() ? NULL : __real_realloc(at, bytes);
}

/* ---- runs ---- */

static void fail_arena(long nth)
{
    muta_arena_fail_after(nth);
}

static void fail_system(long nth)
{
    system_left = nth < 0 ? -1 : nth + 1;
}

/* Stands for what was written: an allocation that failed unseen would change it. */
static uint64_t hash_of(const char *at, size_t length)
{
    uint64_t hash = 1469598103934665603u;

    for (size_t i = 0; i < length; i++)
        hash = (hash ^ (unsigned char)at[i]) * 1099511628211u;
    return hash;
}

/* Reads, varies and writes; the failing begins with the reading, or behind it. */
static muta_status vary(const char *xml, const char *line, bool reads_well, void (*fail)(long),
                        long nth, uint64_t *hash)
{
    muta_score *score = NULL;
    muta_chain *chain = NULL;
    muta_outcome outcome;
    char *out = NULL;
    size_t length;

    if (!reads_well)
        fail(nth);
    muta_status status = muta_score_read_bytes(xml, strlen(xml), &score, NULL);
    if (reads_well)
        fail(nth);
    if (status == MUTA_OK)
        status = muta_chain_parse(line, &chain, NULL);
    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, &outcome, NULL);
    if (status == MUTA_OK)
        status = muta_score_write_bytes(score, &out, &length);
    fail(-1);
    *hash = status == MUTA_OK ? hash_of(out, length) : 0;
    free(out);
    muta_chain_free(chain);
    muta_score_free(score);
    return status;
}

/* Whether a run that meets no failure comes in the end, and all before say what failed. */
static bool fails_well(const char *xml, const char *line, bool reads_well, void (*fail)(long),
                       long step, long at_least)
{
    uint64_t wanted;
    uint64_t hash = 0;
    long nth = 0;
    long runs = 0;
    const muta_status good = vary(xml, line, reads_well, fail, -1, &wanted);
    muta_status status = MUTA_E_MEMORY;

    for (; status == MUTA_E_MEMORY; nth += step, runs++)
        status = vary(xml, line, reads_well, fail, nth, &hash);
    if (status == good && hash == wanted && runs >= at_least)
        return true;
    printf("FAILED %s: of %s the allocation behind %ld fails: status %d after %ld runs\n", line,
           fail == fail_arena ? "arenas" : "the system", nth - step, (int)status, runs);
    return false;
}

static bool passes_fail_well(const char *xml, long step)
{
    static const char *const chains[] = {
        "transpose where=*:1,*:3,*:5,*:7,1:#9", "sequence where=1:1,1:3 | invert",
        "augment where=*:1,*:4 | retrograde | fragment", "reharmonise | realise into=new"};
    bool is_well = true;

    for (size_t i = 0; i < muta_pass_count() + sizeof chains / sizeof *chains; i++) {
        const char *const line =
            i < muta_pass_count() ? muta_pass_at(i)->name : chains[i - muta_pass_count()];
        is_well = fails_well(xml, line, true, fail_arena, step, 1) && is_well;
        is_well = fails_well(xml, line, true, fail_system, 1, 1) && is_well;
    }
    return is_well;
}

int main(int count, char **arguments)
{
    enum {
        STEP = 7
    };
    static const char line[] = "transpose by=M2 where=*:#3-#5 | augment by=3/2 | sequence times=2";
    size_t length;
    char *const xml = count < 2 ? NULL : corpus_xml(arguments[1], &length);

    if (!xml)
        return 1;
    bool is_well = fails_well(xml, line, false, fail_arena, 1, 100);
    is_well = fails_well(xml, line, false, fail_system, 1, 30) && is_well;
    is_well = passes_fail_well(xml, STEP) && is_well;
    free(xml);
    printf("%d passed, %d failed\n", is_well, !is_well);
    return is_well ? 0 : 1;
}
