/* arena.c: memory with one owner. Under ASan what is not yet given out is poisoned. */
#include "base/arena.h"
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

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
    LARGEST_CHUNK = 1024 * 1024
};

struct muta_arena_chunk {
    muta_arena_chunk *before;
    size_t used;
    size_t size;
    max_align_t bytes[];
};

static long allocations_left = -1;

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

static muta_arena_chunk *add_chunk(muta_arena *arena, size_t bytes)
{
    size_t size = arena->last ? arena->last->size * 2 : FIRST_CHUNK;

    size = size > LARGEST_CHUNK ? LARGEST_CHUNK : size;
    size = size < bytes ? bytes : size;
    if (size > SIZE_MAX - sizeof(muta_arena_chunk))
        return NULL;
    /* Large chunks come from the system, which has zeroed them: nothing is touched before its use.
     */
    muta_arena_chunk *const chunk = calloc(1, sizeof *chunk + size);
    if (!chunk)
        return NULL;
    chunk->before = arena->last;
    chunk->size = size;
    POISON(chunk->bytes, size);
    arena->last = chunk;
    arena->bytes += size;
    return chunk;
}

/* What was never given out is zero still. */
static void *take(muta_arena *arena, size_t bytes, size_t align)
{
    if (allocations_left == 0)
        return NULL;
    if (allocations_left > 0)
        allocations_left--;
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

void *muta_arena_take(muta_arena *arena, size_t bytes)
{
    return take(arena, bytes, sizeof(max_align_t) > 16 ? 16 : sizeof(max_align_t));
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
