/* relay.c: two batches of events, of which the parser fills one while the tree grows from the
 * other.
 */
#include "musicxml/relay.h"
#include <stdlib.h>

/* Bytes. A batch is a part of what came before: the first ones are small, so that the thread has
 * work soon, the later ones larger, since each wakes it. */
enum {
    SMALLEST = 64 * 1024,
    LARGEST = 256 * 1024,
    PART = 8
};

struct muta_relay {
    muta_growth *growth;
    muta_batch batches[2];
    int filling;   /* which of them the parser fills */
    size_t passed; /* bytes, in batches before */
    muta_tree *tree;
    muta_crew *crew; /* NULL: the tree grows at once */
    bool has_ended;
    bool is_over; /* no batch comes any more */
    sem_t full;   /* the other batch is to be worked on, or it is over */
    sem_t free;   /* it has been, and what came of it stands here: */
    muta_status status;
};

static const muta_buffer *other(const muta_relay *relay)
{
    return &relay->batches[!relay->filling].events;
}

static void work(void *of)
{
    muta_relay *const relay = of;

    for (muta_crew_await(&relay->full); !relay->is_over; muta_crew_await(&relay->full)) {
        if (relay->status == MUTA_OK)
            relay->status = muta_growth_feed(relay->growth, other(relay)->at, other(relay)->length);
        (void)sem_post(&relay->free);
    }
}

static bool begin(muta_relay *relay)
{
    /* Batches that grow beside the tree would leave holes in the memory. */
    for (size_t i = 0; i < 2; i++)
        if (muta_buffer_reserve(&relay->batches[i].events, LARGEST + LARGEST / 4) != MUTA_OK)
            return false;
    if (sem_init(&relay->full, 0, 0) != 0)
        return false;
    if (sem_init(&relay->free, 0, 1) == 0) {
        relay->crew = muta_tree_crew(relay->tree);
        if (relay->crew) {
            muta_crew_start(relay->crew, work, relay);
            return true;
        }
        (void)sem_destroy(&relay->free);
    }
    (void)sem_destroy(&relay->full);
    return false;
}

/* Without a thread the tree grows at once. */
static muta_status feed_here(muta_relay *relay)
{
    muta_buffer *const batch = &relay->batches[relay->filling].events;

    if (relay->status == MUTA_OK)
        relay->status = muta_growth_feed(relay->growth, batch->at, batch->length);
    batch->length = 0;
    return relay->status;
}

static muta_status hand_over(muta_relay *relay)
{
    muta_crew_await(&relay->free);
    const muta_status status = relay->status;
    relay->filling = !relay->filling;
    relay->batches[relay->filling].events.length = 0;
    (void)sem_post(&relay->full);
    return status;
}

muta_relay *muta_relay_new(muta_tree *tree)
{
    muta_relay *const relay = calloc(1, sizeof *relay);

    if (relay) {
        relay->tree = tree;
        relay->growth = muta_growth_new(tree);
        relay->batches[0].enough = SMALLEST;
    }
    if (relay && relay->growth)
        return relay;
    free(relay);
    return NULL;
}

muta_batch *muta_relay_batch(muta_relay *relay)
{
    return &relay->batches[relay->filling];
}

static size_t enough(const muta_relay *relay)
{
    const size_t part = relay->passed / PART;

    return part < SMALLEST ? SMALLEST : part > LARGEST ? LARGEST : part;
}

muta_status muta_relay_pass(muta_relay *relay)
{
    relay->passed += muta_relay_batch(relay)->events.length;
    const muta_status status = relay->crew || begin(relay) ? hand_over(relay) : feed_here(relay);
    muta_relay_batch(relay)->enough = enough(relay);
    return status;
}

muta_status muta_relay_end(muta_relay *relay)
{
    if (relay->has_ended)
        return relay->status;
    relay->has_ended = true;
    if (!relay->crew)
        return feed_here(relay);
    /* The last batch is worked on here, while the thread hears that it is over. */
    muta_crew_await(&relay->free);
    relay->is_over = true;
    (void)sem_post(&relay->full);
    (void)feed_here(relay);
    muta_crew_wait(relay->crew);
    (void)sem_destroy(&relay->free);
    (void)sem_destroy(&relay->full);
    return relay->status;
}

void muta_relay_free(muta_relay *relay)
{
    if (!relay)
        return;
    const muta_status ended = muta_relay_end(relay); /* said already, or nobody asks */
    (void)ended;
    for (size_t i = 0; i < 2; i++)
        free(relay->batches[i].events.at);
    muta_growth_free(relay->growth);
    free(relay);
}
