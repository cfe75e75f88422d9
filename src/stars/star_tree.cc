#include "stars/star_tree.h"

#include <kdtree++/kdtree.hpp>

#include <new>
#include <vector>

namespace
{

struct place {
    typedef double value_type;
    double coordinate[2];
    int star;

    double operator[](size_t axis) const
    {
        return coordinate[axis];
    }
};

} // namespace

struct star_tree {
    KDTree::KDTree<2, place> places;
};

/* No exception may cross into C: the only one that can arise is a failed allocation. */
extern "C" struct star_tree *star_tree_make(const struct star_list *list)
{
    try {
        std::vector<place> places;
        places.reserve(static_cast<size_t>(list->count));
        for (int i = 0; i < list->count; i++) {
            places.push_back(place{{list->star[i].x, list->star[i].y}, i});
        }
        star_tree *tree = new star_tree;
        try {
            tree->places.efficient_replace_and_optimise(places);
        } catch (...) {
            delete tree;
            throw;
        }
        return tree;
    } catch (const std::bad_alloc &) {
        return nullptr;
    }
}

extern "C" void star_tree_free(struct star_tree *tree)
{
    delete tree;
}

extern "C" int star_tree_nearest(const struct star_tree *tree, double x, double y, double reach)
{
    auto found = tree->places.find_nearest(place{{x, y}, -1}, reach);
    return found.first == tree->places.end() ? -1 : found.first->star;
}
