/* relay.c: two batches of events, of which the parser fills one while the tree grows from the
 * other.
 */
#include "musicxml/relay.h"
#include <stdlib.h>

/* Bytes. A batch is a part of what came before: the first ones are small, so that the thread has
 * work soon, the later ones larger, since each wakes it. */
enum {
    SMALLEST = 64 * 1024,
    LARGEST = 384 * 1024,
    PART = 8
};

struct muta_relay {
    muta_growth *growth;
    muta_buffer batches[2];
    int filling;   /* which of them the parser fills */
    size_t passed; /* bytes, in batches before */
    muta_tree *tree;
    muta_crew *crew; /* NULL: the tree grows at once */
    bool has_ended;
    pthread_mutex_t lock; /* over what follows */
    pthread_cond_t changed;
    bool is_full; /* the other batch waits, or is at work */
    bool is_over; /* none will come */
    muta_status status;
};

/* Waits for a full batch; NULL when none will come. */
static const muta_buffer *next_batch(muta_relay *relay)
{
    (void)pthread_mutex_lock(&relay->lock);
    while (!relay->is_full && !relay->is_over)
        (void)pthread_cond_wait(&relay->changed, &relay->lock);
    const muta_buffer *const batch = relay->is_full ? &relay->batches[!relay->filling] : NULL;
    (void)pthread_mutex_unlock(&relay->lock);
    return batch;
}

static void give_back(muta_relay *relay, muta_status status)
{
    (void)pthread_mutex_lock(&relay->lock);
    relay->is_full = false;
    if (relay->status == MUTA_OK)
        relay->status = status;
    (void)pthread_cond_signal(&relay->changed);
    (void)pthread_mutex_unlock(&relay->lock);
}

static void work(void *of)
{
    muta_relay *const relay = of;
    const muta_buffer *batch;
    muta_status status = MUTA_OK;

    while ((batch = next_batch(relay))) {
        if (status == MUTA_OK)
            status = muta_growth_feed(relay->growth, batch->at, batch->length);
        give_back(relay, status);
    }
}

static bool begin(muta_relay *relay)
{
    /* Batches that grow beside the tree would leave holes in the memory. */
    for (size_t i = 0; i < 2; i++)
        if (muta_buffer_reserve(&relay->batches[i], LARGEST + LARGEST / 4) != MUTA_OK)
            return false;
    if (pthread_mutex_init(&relay->lock, NULL) != 0)
        return false;
    if (pthread_cond_init(&relay->changed, NULL) == 0) {
        relay->crew = muta_tree_crew(relay->tree);
        if (relay->crew) {
            muta_crew_start(relay->crew, work, relay);
            return true;
        }
        (void)pthread_cond_destroy(&relay->changed);
    }
    (void)pthread_mutex_destroy(&relay->lock);
    return false;
}

/* Without a thread the tree grows at once. */
static muta_status feed_here(muta_relay *relay)
{
    muta_buffer *const batch = &relay->batches[relay->filling];

    if (relay->status == MUTA_OK)
        relay->status = muta_growth_feed(relay->growth, batch->at, batch->length);
    batch->length = 0;
    return relay->status;
}

static muta_status hand_over(muta_relay *relay)
{
    (void)pthread_mutex_lock(&relay->lock);
    while (relay->is_full)
        (void)pthread_cond_wait(&relay->changed, &relay->lock);
    const muta_status status = relay->status;
    relay->is_full = true;
    relay->filling = !relay->filling;
    (void)pthread_cond_signal(&relay->changed);
    (void)pthread_mutex_unlock(&relay->lock);
    relay->batches[relay->filling].length = 0;
    return status;
}

muta_relay *muta_relay_new(muta_tree *tree)
{
    muta_relay *const relay = calloc(1, sizeof *relay);

    if (relay) {
        relay->tree = tree;
        relay->growth = muta_growth_new(tree);
    }
    if (relay && relay->growth)
        return relay;
    free(relay);
    return NULL;
}

muta_buffer *muta_relay_events(muta_relay *relay)
{
    return &relay->batches[relay->filling];
}

muta_status muta_relay_pass(muta_relay *relay)
{
    const size_t length = relay->batches[relay->filling].length;

    if (length < SMALLEST || (length < LARGEST && length < relay->passed / PART))
        return MUTA_OK;
    relay->passed += length;
    return relay->crew || begin(relay) ? hand_over(relay) : feed_here(relay);
}

muta_status muta_relay_end(muta_relay *relay)
{
    if (relay->has_ended)
        return relay->status;
    relay->has_ended = true;
    if (!relay->crew)
        return feed_here(relay);
    (void)hand_over(relay);
    (void)pthread_mutex_lock(&relay->lock);
    relay->is_over = true;
    (void)pthread_cond_signal(&relay->changed);
    (void)pthread_mutex_unlock(&relay->lock);
    muta_crew_wait(relay->crew);
    (void)pthread_cond_destroy(&relay->changed);
    (void)pthread_mutex_destroy(&relay->lock);
    return relay->status;
}

void muta_relay_free(muta_relay *relay)
{
    if (!relay)
        return;
    const muta_status ended = muta_relay_end(relay); /* said already, or nobody asks */
    (void)ended;
    for (size_t i = 0; i < 2; i++)
        free(relay->batches[i].at);
    muta_growth_free(relay->growth);
    free(relay);
}
