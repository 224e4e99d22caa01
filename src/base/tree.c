/* tree.c: the nodes, names and texts of an XML document. */
#include "base/tree.h"
#include <string.h>

enum {
    FIRST_SLOTS = 1024
};

static uint32_t hash_of(const char *at, size_t length)
{
    uint64_t hash = 0x9e3779b97f4a7c15u ^ length;

    while (length >= sizeof(uint64_t)) {
        uint64_t word;
        memcpy(&word, at, sizeof word);
        hash = (hash ^ word) * 0xff51afd7ed558ccdu;
        hash ^= hash >> 32;
        at += sizeof word;
        length -= sizeof word;
    }
    for (; length > 0; length--, at++)
        hash = (hash ^ (unsigned char)*at) * 0x100000001b3u;
    hash ^= hash >> 29;
    return (uint32_t)(hash ^ (hash >> 32));
}

/* Where a text stands in the table, or would stand. */
static muta_string *find_slot(const muta_tree *tree, const muta_tree_string *string)
{
    size_t slot = string->hash & (tree->slot_count - 1);

    for (; tree->slots[slot]; slot = (slot + 1) & (tree->slot_count - 1)) {
        const muta_tree_string *const found = &tree->strings.at[tree->slots[slot]];
        if (found->hash == string->hash && found->length == string->length &&
            memcmp(found->at, string->at, string->length) == 0)
            break;
    }
    return &tree->slots[slot];
}

static muta_status grow_slots(muta_tree *tree)
{
    const size_t wanted = tree->slot_count ? tree->slot_count * 2 : FIRST_SLOTS;
    muta_string *const slots = muta_arena_take_array(&tree->index, wanted, sizeof *slots);

    if (!slots)
        return MUTA_E_MEMORY;
    tree->slots = slots;
    tree->slot_count = wanted;
    for (size_t i = 1; i < tree->strings.count; i++)
        *find_slot(tree, &tree->strings.at[i]) = (muta_string)i;
    return MUTA_OK;
}

static bool is_plain(const char *text)
{
    return text[strcspn(text, "&<>\"'\r\n\t")] == '\0';
}

static muta_status add_string(muta_tree *tree, const muta_tree_string *string, muta_string *slot)
{
    char *const copy = muta_arena_copy_text(&tree->arena, string->at, string->length);

    if (!copy)
        return MUTA_E_MEMORY;
    muta_tree_string *const added = MUTA_PUSH(&tree->index, &tree->strings);
    if (!added)
        return MUTA_E_MEMORY;
    *added = *string;
    added->at = copy;
    added->plain = is_plain(copy);
    *slot = (muta_string)(tree->strings.count - 1);
    return MUTA_OK;
}

muta_status muta_tree_intern(muta_tree *tree, const char *at, size_t length, muta_string *string)
{
    if (length == 0) {
        *string = 0;
        return MUTA_OK;
    }
    if (length > UINT32_MAX - 1 || tree->strings.count >= UINT32_MAX)
        return MUTA_E_RANGE;
    if (tree->strings.count * 2 >= tree->slot_count)
        MUTA_TRY(grow_slots(tree));
    const muta_tree_string sought = {
        .at = at, .length = (uint32_t)length, .hash = hash_of(at, length)};
    muta_string *const slot = find_slot(tree, &sought);
    if (!*slot)
        MUTA_TRY(add_string(tree, &sought, slot));
    *string = *slot;
    return MUTA_OK;
}

muta_status muta_tree_intern_name(muta_tree *tree, const char *at, size_t length, muta_name *name)
{
    muta_string string;

    MUTA_TRY(muta_tree_intern(tree, at, length, &string));
    *name = tree->strings.at[string].name;
    if (*name)
        return MUTA_OK;
    if (string == 0 || tree->names.count > UINT16_MAX)
        return MUTA_E_RANGE;
    muta_string *const added = MUTA_PUSH(&tree->index, &tree->names);
    if (!added)
        return MUTA_E_MEMORY;
    *added = string;
    *name = (muta_name)(tree->names.count - 1);
    tree->strings.at[string].name = *name;
    return MUTA_OK;
}

muta_status muta_tree_init(muta_tree *tree, const char *const *names, size_t count)
{
    muta_name name;

    *tree = (muta_tree){.root = 0};
    muta_tree_string *const empty = MUTA_PUSH(&tree->index, &tree->strings);
    const muta_string *const no_name = MUTA_PUSH(&tree->index, &tree->names);
    if (!empty || !no_name)
        return MUTA_E_MEMORY;
    empty->at = "";
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(muta_tree_intern_name(tree, names[i], strlen(names[i]), &name));
    return MUTA_OK;
}

void muta_tree_clear(muta_tree *tree)
{
    muta_arena_clear(&tree->arena);
    muta_arena_clear(&tree->index);
    *tree = (muta_tree){0};
}

/* Begins the next chunk; no id is 0. */
static muta_status add_chunk(muta_tree *tree, muta_tree_store *store, size_t size)
{
    const size_t nth = store->chunks.count;

    if (nth >= UINT32_MAX / MUTA_TREE_CHUNK)
        return MUTA_E_RANGE;
    void **const chunk = MUTA_PUSH(&tree->index, &store->chunks);
    if (chunk)
        *chunk = muta_arena_take_array(&tree->arena, MUTA_TREE_CHUNK, size);
    if (!chunk || !*chunk)
        return MUTA_E_MEMORY;
    store->next = (uint32_t)nth * MUTA_TREE_CHUNK + (nth == 0);
    store->end = (uint32_t)(nth + 1) * MUTA_TREE_CHUNK;
    return MUTA_OK;
}

muta_status muta_tree_add(muta_tree *tree, muta_node_kind kind, muta_name name, muta_node *node)
{
    if (tree->nodes.next == tree->nodes.end)
        MUTA_TRY(add_chunk(tree, &tree->nodes, sizeof(muta_tree_node)));
    *node = tree->nodes.next++;
    muta_tree_node *const at = muta_tree_at(tree, *node);
    at->kind = (uint8_t)kind;
    at->name = name;
    return MUTA_OK;
}

muta_status muta_tree_add_attributes(muta_tree *tree, muta_node node, size_t count,
                                     muta_attribute **attributes)
{
    if (count > UINT8_MAX)
        return MUTA_E_RANGE;
    if (count > tree->attributes.end - tree->attributes.next)
        MUTA_TRY(add_chunk(tree, &tree->attributes, sizeof(muta_attribute)));
    muta_tree_node *const at = muta_tree_at(tree, node);
    at->attributes = tree->attributes.next;
    at->attribute_count = (uint8_t)count;
    *attributes = muta_tree_attribute_at(tree, at->attributes);
    tree->attributes.next += (uint32_t)count;
    return MUTA_OK;
}

muta_status muta_tree_keep_tag(muta_tree *tree, muta_node node, const char *at, size_t length)
{
    muta_odd_tag *const tag = MUTA_PUSH(&tree->index, &tree->odd_tags);

    if (!tag)
        return MUTA_E_MEMORY;
    tag->node = node;
    muta_tree_at(tree, node)->odd_tag = 1;
    return muta_tree_intern(tree, at, length, &tag->text);
}

static muta_attribute *find_attribute(const muta_tree *tree, muta_node node, muta_name name)
{
    const muta_tree_node *const at = muta_tree_at(tree, node);

    for (uint32_t i = 0; i < at->attribute_count; i++) {
        muta_attribute *const attribute = muta_tree_attribute_at(tree, at->attributes + i);
        if (attribute->name == name)
            return attribute;
    }
    return NULL;
}

const char *muta_tree_attribute(const muta_tree *tree, muta_node node, muta_name name)
{
    const muta_attribute *const found = find_attribute(tree, node, name);

    return found ? muta_tree_string_at(tree, found->value) : NULL;
}

muta_status muta_tree_set_attribute(muta_tree *tree, muta_node node, muta_name name,
                                    const char *value)
{
    muta_attribute *found = find_attribute(tree, node, name);
    const muta_tree_node old = *muta_tree_at(tree, node);

    if (!found) {
        /* Runs cannot grow where they stand, so the element gets a new one. */
        MUTA_TRY(muta_tree_add_attributes(tree, node, (size_t)old.attribute_count + 1, &found));
        for (uint32_t i = 0; i < old.attribute_count; i++)
            *found++ = *muta_tree_attribute_at(tree, old.attributes + i);
        found->name = name;
    }
    muta_tree_at(tree, node)->odd_tag = 0;
    return muta_tree_intern(tree, value, strlen(value), &found->value);
}

void muta_tree_drop_attribute(muta_tree *tree, muta_node node, muta_name name)
{
    muta_tree_node *const at = muta_tree_at(tree, node);
    muta_attribute *found = find_attribute(tree, node, name);

    if (!found)
        return;
    const muta_attribute *const end =
        muta_tree_attribute_at(tree, at->attributes) + at->attribute_count;
    for (; found + 1 < end; found++)
        found[0] = found[1];
    at->attribute_count--;
    at->odd_tag = 0;
}

muta_node muta_tree_child(const muta_tree *tree, muta_node parent, muta_name name)
{
    muta_node child = muta_tree_first(tree, parent);

    while (child && muta_tree_name(tree, child) != name)
        child = muta_tree_next(tree, child);
    return child;
}

muta_string muta_tree_leaf_string(const muta_tree *tree, muta_node node)
{
    const muta_tree_node *const at = muta_tree_at(tree, node);

    /* A comment or CDATA inside a leaf makes its text a child. */
    for (muta_node child = at->child; child; child = muta_tree_next(tree, child))
        if (muta_tree_at(tree, child)->kind == MUTA_TEXT ||
            muta_tree_at(tree, child)->kind == MUTA_CDATA)
            return muta_tree_at(tree, child)->text;
    return at->text;
}

muta_text muta_tree_trimmed(const muta_tree *tree, muta_string string)
{
    const muta_tree_string *const text = &tree->strings.at[string];

    return muta_text_trim((muta_text){text->at, text->length});
}

muta_text muta_tree_leaf(const muta_tree *tree, muta_node node)
{
    return muta_tree_trimmed(tree, muta_tree_leaf_string(tree, node));
}

muta_status muta_tree_set_text(muta_tree *tree, muta_node node, const char *text)
{
    muta_tree_node *const at = muta_tree_at(tree, node);

    at->child = 0;
    at->tail = 0;
    return muta_tree_intern(tree, text, strlen(text), &at->text);
}

void muta_tree_insert(muta_tree *tree, muta_node parent, muta_node after, muta_node node)
{
    muta_node *const link =
        after ? &muta_tree_at(tree, after)->next : &muta_tree_at(tree, parent)->child;

    muta_tree_at(tree, node)->next = *link;
    *link = node;
}

void muta_tree_remove(muta_tree *tree, muta_node parent, muta_node node)
{
    muta_tree_remove_after(tree, parent, 0, node);
}

void muta_tree_remove_after(muta_tree *tree, muta_node parent, muta_node after, muta_node node)
{
    muta_node *link = after ? &muta_tree_at(tree, after)->next : &muta_tree_at(tree, parent)->child;

    while (*link && *link != node)
        link = &muta_tree_at(tree, *link)->next;
    if (*link)
        *link = muta_tree_at(tree, node)->next;
}
