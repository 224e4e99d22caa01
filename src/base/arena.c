/* arena.c: memory with one owner. Under ASan what is not yet given out is poisoned. */
#include "base/arena.h"
#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

#if defined(__SANITIZE_ADDRESS__)
#define HAS_ASAN 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define HAS_ASAN 1
#endif
#endif
#ifdef HAS_ASAN
#include <sanitizer/asan_interface.h>
#define POISON(at, size) ASAN_POISON_MEMORY_REGION(at, size)
#define UNPOISON(at, size) ASAN_UNPOISON_MEMORY_REGION(at, size)
#else
#define POISON(at, size) ((void)(at), (void)(size))
#define UNPOISON(at, size) ((void)(at), (void)(size))
#endif

enum {
    FIRST_CHUNK = 4096,
    LARGEST_CHUNK = 1024 * 1024,
    LARGE_PAGE = 2 * 1024 * 1024,
    MANY_BYTES = 4 * 1024 * 1024 /* from here on an arena fills large pages */
};

struct muta_arena_chunk {
    muta_arena_chunk *before;
    size_t used;
    size_t size;
    max_align_t bytes[];
};

/* Threads take memory at the same time, each of an arena of its own. */
static _Atomic long allocations_left = -1;

void muta_arena_fail_after(long count)
{
    allocations_left = count;
}

void muta_arena_init(muta_arena *arena)
{
    *arena = (muta_arena){0};
}

void muta_arena_clear(muta_arena *arena)
{
    while (arena->last) {
        muta_arena_chunk *const before = arena->last->before;
        UNPOISON(arena->last->bytes, arena->last->size);
        free(arena->last);
        arena->last = before;
    }
    arena->bytes = 0;
}

/* How large the next chunk is, its head aside. */
static size_t next_size(const muta_arena *arena)
{
    const size_t size = arena->last ? arena->last->size * 2 : FIRST_CHUNK;

    if (arena->bytes >= MANY_BYTES)
        return LARGE_PAGE - sizeof(muta_arena_chunk);
    return size > LARGEST_CHUNK ? LARGEST_CHUNK : size;
}

/* Large scores touch memory for the first time more often than they do anything else that is slow:
 * where the system has large pages it is asked for them. */
static void *from_system(size_t bytes)
{
#ifdef MADV_HUGEPAGE
    if (bytes == LARGE_PAGE) {
        void *const page = aligned_alloc(LARGE_PAGE, LARGE_PAGE);
        if (page)
            (void)madvise(page, LARGE_PAGE, MADV_HUGEPAGE); /* without them it only takes longer */
        return page;
    }
#endif
    return malloc(bytes);
}

static muta_arena_chunk *add_chunk(muta_arena *arena, size_t bytes)
{
    size_t size = next_size(arena);

    size = size < bytes ? bytes : size;
    if (size > SIZE_MAX - sizeof(muta_arena_chunk))
        return NULL;
    muta_arena_chunk *const chunk = from_system(sizeof *chunk + size);
    if (!chunk)
        return NULL;
    *chunk = (muta_arena_chunk){.before = arena->last, .size = size};
    POISON(chunk->bytes, size);
    arena->last = chunk;
    arena->bytes += size;
    return chunk;
}

/* Counts down, but never past 0, whoever else counts. */
static bool must_fail(void)
{
    long left = allocations_left;

    while (left > 0 && !atomic_compare_exchange_weak(&allocations_left, &left, left - 1))
        ;
    return left == 0;
}

static void *take(muta_arena *arena, size_t bytes, size_t align)
{
    if (must_fail())
        return NULL;
    muta_arena_chunk *chunk = arena->last;
    size_t at = chunk ? (chunk->used + align - 1) / align * align : 0;
    if (!chunk || at > chunk->size || bytes > chunk->size - at) {
        chunk = add_chunk(arena, bytes);
        at = 0;
    }
    if (!chunk)
        return NULL;
    char *const given = (char *)chunk->bytes + at;
    chunk->used = at + bytes;
    UNPOISON(given, bytes);
    return given;
}

static void *take_aligned(muta_arena *arena, size_t bytes)
{
    return take(arena, bytes, sizeof(max_align_t) > 16 ? 16 : sizeof(max_align_t));
}

/* Zeroed as it is given out, not chunk by chunk: so it is in the cache when it is filled in. */
void *muta_arena_take(muta_arena *arena, size_t bytes)
{
    void *const given = take_aligned(arena, bytes);

    return given ? memset(given, 0, bytes) : NULL;
}

void *muta_arena_take_blank(muta_arena *arena, size_t count, size_t bytes)
{
    size_t all;

    if (__builtin_mul_overflow(count, bytes, &all))
        return NULL;
    return take_aligned(arena, all);
}

bool muta_arena_extend(muta_arena *arena, const void *newest, size_t bytes, size_t wanted)
{
    muta_arena_chunk *const chunk = arena->last;
    const size_t end = chunk ? chunk->used : 0;

    if (!chunk || end < bytes || (const char *)chunk->bytes + (end - bytes) != newest ||
        wanted > chunk->size - (end - bytes))
        return false;
    chunk->used = end - bytes + wanted;
    UNPOISON((char *)chunk->bytes + end, wanted - bytes);
    return true;
}

void *muta_arena_take_array(muta_arena *arena, size_t count, size_t bytes)
{
    size_t all;

    if (__builtin_mul_overflow(count, bytes, &all))
        return NULL;
    return muta_arena_take(arena, all);
}

char *muta_arena_copy_text(muta_arena *arena, const char *at, size_t length)
{
    char *const copy = take(arena, length + 1, 1);

    if (!copy)
        return NULL;
    memcpy(copy, at, length);
    copy[length] = '\0';
    return copy;
}
