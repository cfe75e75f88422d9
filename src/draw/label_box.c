#include "draw/label_box.h"

bool label_boxes_touch(const struct label_box *a, const struct label_box *b, double gap)
{
    return a->x < b->x + b->width + gap && b->x < a->x + a->width + gap &&
           a->y < b->y + b->height + gap && b->y < a->y + a->height + gap;
}
