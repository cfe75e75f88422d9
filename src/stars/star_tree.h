/* stars/star_tree.h: the nearest star to a place; libkdtree++ behind a C face. */
#ifndef ALIDADE_STARS_STAR_TREE_H
#define ALIDADE_STARS_STAR_TREE_H

#include "stars/stars.h"

#ifdef __cplusplus
extern "C" {
#endif

struct star_tree;

/* A tree of the places of all stars in the list, which need not outlive this call. NULL when memory
 * is short. The caller frees it with star_tree_free, which accepts NULL. */
struct star_tree *star_tree_make(const struct star_list *list);
void star_tree_free(struct star_tree *tree);

/* Index of the star nearest to (x, y), px, within reach px, or -1. */
int star_tree_nearest(const struct star_tree *tree, double x, double y, double reach);

#ifdef __cplusplus
}
#endif

#endif
