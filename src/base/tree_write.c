/* tree_write.c: the tree as XML text again, in the form in which it was read. */
#include "base/buffer.h"
#include "base/crew.h"
#include "base/tree.h"
#include <stdlib.h>
#include <string.h>

enum {
    ROOM = 32 * 1024,
    PIECES = 16,        /* into which a tree is cut, */
    LARGEST_PIECE = 256 /* each of so many units at most */
};

/*
 * A tree that is written by two threads: each takes the next piece of it, and what it has made of
 * it goes out when that of all before has. The units of which pieces are made are what hangs two
 * levels below the root: the bars of a score's parts.
 */
struct sharing {
    const muta_tree *tree;
    muta_sink sink;
    muta_turns turns;
    size_t units;       /* to the piece */
    muta_status status; /* for whoever has the turn */
    size_t nodes;       /* for whoever has the lock of the turns */
};

struct writer {
    const muta_tree *tree;
    muta_sink sink;
    muta_status status;
    size_t nodes;
    size_t used;
    char bytes[ROOM];
};

static void flush(struct writer *writer)
{
    if (writer->status == MUTA_OK && writer->used > 0)
        writer->status = writer->sink.write(writer->sink.to, writer->bytes, writer->used);
    writer->used = 0;
}

static void put_long(struct writer *writer, const char *at, size_t length)
{
    flush(writer);
    if (writer->status == MUTA_OK)
        writer->status = writer->sink.write(writer->sink.to, at, length);
}

static inline void put(struct writer *writer, const char *at, size_t length)
{
    if (length > ROOM) {
        put_long(writer, at, length);
        return;
    }
    if (length > ROOM - writer->used)
        flush(writer);
    memcpy(writer->bytes + writer->used, at, length);
    writer->used += length;
}

static void put_text(struct writer *writer, const char *text)
{
    put(writer, text, strlen(text));
}

static void put_string(struct writer *writer, muta_string string)
{
    const muta_tree_string *const text = &writer->tree->strings.at[string];

    put(writer, text->at, text->length);
}

/* What stands for a character in text or in an attribute's value; NULL: itself. */
static const char *reference(const muta_tree *tree, char c, bool in_attribute)
{
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return in_attribute ? NULL : "&gt;";
    case '"':
        return in_attribute || tree->quot_escaped ? "&quot;" : NULL;
    case '\'':
        return !in_attribute && tree->apos_escaped ? "&apos;" : NULL;
    case '\r':
        return "&#13;";
    case '\n':
        return in_attribute ? "&#10;" : tree->crlf ? "\r\n" : NULL;
    case '\t':
        return in_attribute ? "&#9;" : NULL;
    default:
        return NULL;
    }
}

static void put_escaped(struct writer *writer, muta_string string, bool in_attribute)
{
    const muta_tree_string *const text = &writer->tree->strings.at[string];
    const char *from = text->at;
    const char *const end = text->at + text->length;

    if (text->plain) {
        put(writer, text->at, text->length);
        return;
    }
    for (const char *at = from; at < end; at++) {
        if ((unsigned char)*at > '>')
            continue;
        const char *const other = reference(writer->tree, *at, in_attribute);
        if (!other)
            continue;
        put(writer, from, (size_t)(at - from));
        put_text(writer, other);
        from = at + 1;
    }
    put(writer, from, (size_t)(end - from));
}

static void put_blank(struct writer *writer, muta_string string)
{
    if (writer->tree->crlf)
        put_escaped(writer, string, false);
    else
        put_string(writer, string);
}

static void put_name(struct writer *writer, muta_name name)
{
    put_string(writer, writer->tree->names.at[name]);
}

static void put_start(struct writer *writer, const muta_tree_node *node)
{
    put(writer, "<", 1);
    put_name(writer, node->name);
    for (uint32_t i = 0; i < node->attribute_count; i++) {
        const muta_attribute *const attribute =
            muta_tree_attribute_at(writer->tree, node->attributes + i);
        put(writer, " ", 1);
        put_name(writer, attribute->name);
        put(writer, "=\"", 2);
        put_escaped(writer, attribute->value, true);
        put(writer, "\"", 1);
    }
}

/* The start tag as it was read. */
static muta_string odd_tag(const muta_tree *tree, muta_node node)
{
    size_t low = 0;
    size_t high = tree->odd_tags.count;

    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (tree->odd_tags.at[middle].node <= node)
            low = middle;
        else
            high = middle;
    }
    return tree->odd_tags.at[low].text;
}

static void put_node(struct writer *writer, muta_node node);

/* Up to what it holds; false when that is nothing, and its end is written too. */
static bool put_head(struct writer *writer, muta_node id, const muta_tree_node *node)
{
    if (node->odd_tag)
        put_string(writer, odd_tag(writer->tree, id));
    else
        put_start(writer, node);
    if (!node->child && !node->text && !node->open_form) {
        put(writer, "/>", 2);
        return false;
    }
    put(writer, ">", 1);
    put_escaped(writer, node->text, false);
    return true;
}

static void put_end(struct writer *writer, const muta_tree_node *node)
{
    put_blank(writer, node->tail);
    put(writer, "</", 2);
    put_name(writer, node->name);
    put(writer, ">", 1);
}

static void put_element(struct writer *writer, muta_node id, const muta_tree_node *node)
{
    if (!put_head(writer, id, node))
        return;
    for (muta_node child = node->child; child; child = muta_tree_next(writer->tree, child))
        put_node(writer, child);
    put_end(writer, node);
}

/* Its depth is bounded: the reader refuses deeper documents. */
static void put_node(struct writer *writer, muta_node node)
{
    const muta_tree_node *const at = muta_tree_at(writer->tree, node);

    writer->nodes++;
    put_blank(writer, at->before);
    switch ((muta_node_kind)at->kind) {
    case MUTA_ELEMENT:
        put_element(writer, node, at);
        break;
    case MUTA_TEXT:
        put_escaped(writer, at->text, false);
        break;
    case MUTA_CDATA:
        put_text(writer, "<![CDATA[");
        put_string(writer, at->text);
        put_text(writer, "]]>");
        break;
    case MUTA_COMMENT:
        put_text(writer, "<!--");
        put_string(writer, at->text);
        put_text(writer, "-->");
        break;
    case MUTA_INSTRUCTION:
        put_text(writer, "<?");
        put_name(writer, at->name);
        if (at->text) {
            put(writer, " ", 1);
            put_string(writer, at->text);
        }
        put_text(writer, "?>");
        break;
    }
}

/* ---- two threads ---- */

/* One of the two: its writer's sink keeps what comes before its turn. */
struct share {
    struct sharing *sharing;
    struct writer writer;
    muta_buffer kept;
    size_t piece;
    size_t unit;  /* how many have begun, in whoever's piece */
    bool is_mine; /* the unit that is passed is of my piece */
};

static muta_status send(struct sharing *sharing, const char *at, size_t length)
{
    if (sharing->status == MUTA_OK && length > 0)
        sharing->status = sharing->sink.write(sharing->sink.to, at, length);
    return sharing->status;
}

/* The sink of a share. */
static muta_status send_or_keep(void *to, const char *at, size_t length)
{
    struct share *const share = to;

    if (!muta_turns_is_up(&share->sharing->turns, share->piece))
        return muta_buffer_put(&share->kept, at, length);
    MUTA_TRY(send(share->sharing, share->kept.at, share->kept.length));
    share->kept.length = 0;
    return send(share->sharing, at, length);
}

static void hand_in(struct share *share)
{
    struct sharing *const sharing = share->sharing;

    muta_turns_wait(&sharing->turns, share->piece);
    flush(&share->writer);
    (void)send(sharing, share->kept.at, share->kept.length);
    share->kept.length = 0;
    if (sharing->status == MUTA_OK)
        sharing->status = share->writer.status;
    sharing->nodes += share->writer.nodes;
    share->writer.nodes = 0;
    muta_turns_pass(&sharing->turns);
}

/* Says that a unit begins. */
static void next_unit(struct share *share)
{
    const size_t of = share->unit++ / share->sharing->units;

    if (share->is_mine && of != share->piece) {
        hand_in(share);
        share->piece = muta_turns_take(&share->sharing->turns);
    }
    share->is_mine = of == share->piece;
}

static void put_unit(struct share *share, muta_node node)
{
    next_unit(share);
    if (share->is_mine)
        put_node(&share->writer, node);
}

/* A part, or what else hangs below the root. */
static void put_branch(struct share *share, muta_node id)
{
    struct writer *const writer = &share->writer;
    const muta_tree_node *const node = muta_tree_at(writer->tree, id);

    if (!node->child) {
        put_unit(share, id);
        return;
    }
    if (share->is_mine) {
        writer->nodes++;
        put_blank(writer, node->before);
        (void)put_head(writer, id, node);
    }
    for (muta_node child = node->child; child; child = muta_tree_next(writer->tree, child))
        put_unit(share, child);
    if (share->is_mine)
        put_end(writer, node);
}

static void put_share(struct share *share)
{
    struct writer *const writer = &share->writer;
    const muta_tree *const tree = writer->tree;
    const muta_tree_node *const root = muta_tree_at(tree, tree->root);

    share->piece = muta_turns_take(&share->sharing->turns);
    share->is_mine = share->piece == 0;
    if (share->is_mine) {
        writer->nodes++;
        put_string(writer, tree->prolog);
        put_blank(writer, root->before);
        (void)put_head(writer, tree->root, root);
    }
    for (muta_node child = root->child; child; child = muta_tree_next(tree, child))
        put_branch(share, child);
    if (!share->is_mine)
        return;
    put_end(writer, root);
    put_string(writer, tree->epilog);
    hand_in(share);
}

static void begin(struct writer *writer, const muta_tree *tree, muta_sink sink)
{
    writer->tree = tree;
    writer->sink = sink;
    writer->status = MUTA_OK;
    writer->nodes = 0;
    writer->used = 0;
}

static void work(void *of, bool is_beside)
{
    struct share share = {.sharing = of};

    (void)is_beside;
    begin(&share.writer, share.sharing->tree, (muta_sink){send_or_keep, &share});
    put_share(&share);
    free(share.kept.at);
}

static size_t count_units(const muta_tree *tree)
{
    size_t count = 0;

    for (muta_node branch = muta_tree_first(tree, tree->root); branch;
         branch = muta_tree_next(tree, branch))
        for (muta_node unit = muta_tree_first(tree, branch); unit;
             unit = muta_tree_next(tree, unit))
            count++;
    return count;
}

static muta_status write_shared(const muta_tree *tree, muta_sink sink, size_t *nodes)
{
    struct sharing sharing = {.tree = tree, .sink = sink};

    if (!muta_turns_init(&sharing.turns))
        return MUTA_E_MEMORY;
    sharing.units = count_units(tree) / PIECES + 1;
    if (sharing.units > LARGEST_PIECE)
        sharing.units = LARGEST_PIECE;
    muta_crew_run(tree->crew, work, &sharing);
    muta_turns_clear(&sharing.turns);
    *nodes = sharing.nodes;
    return sharing.status;
}

/* ---- what others call ---- */

/* Writes a node, and with the root what stands outside it. */
static muta_status write_alone(const muta_tree *tree, muta_node node, bool outside, muta_sink sink,
                               size_t *nodes)
{
    struct writer writer;

    begin(&writer, tree, sink);
    if (outside)
        put_string(&writer, tree->prolog);
    put_node(&writer, node);
    if (outside)
        put_string(&writer, tree->epilog);
    flush(&writer);
    *nodes = writer.nodes;
    return writer.status;
}

muta_status muta_tree_write(const muta_tree *tree, muta_sink sink, size_t *nodes)
{
    size_t count = 0;
    const bool is_shared = tree->crew && muta_tree_first(tree, tree->root) != 0;
    const muta_status status = is_shared ? write_shared(tree, sink, &count)
                                         : write_alone(tree, tree->root, true, sink, &count);

    if (nodes)
        *nodes = count;
    return status;
}

muta_status muta_tree_write_node(const muta_tree *tree, muta_node node, muta_sink sink)
{
    size_t count;

    return write_alone(tree, node, false, sink, &count);
}
