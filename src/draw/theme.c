#include "draw/theme.h"

static const struct theme
    themes[THEMES] =
        {
            [THEME_NIGHT] =
                {
                    .ink =
                        {
                            [INK_PLAIN] = {0.96, 0.93, 0.87, 1},
                            [INK_OBJECT] = {1.00, 0.77, 0.40, 1},
                            [INK_STAR] = {0.80, 0.91, 1.00, 1},
                            [INK_FIGURE] = {0.47, 0.72, 0.92, 0.62},
                            [INK_BORDER] = {0.72, 0.55, 0.80, 0.60},
                            [INK_GRID] = {0.62, 0.70, 0.74, 0.42},
                            [INK_ECLIPTIC] = {0.98, 0.93, 0.45, 0.85},
                            [INK_FRAME] = {0.55, 0.95, 0.78, 1},
                        },
                    .rim = {0.03, 0.03, 0.06, 0.50},
                    .text_rim = {0.03, 0.03, 0.06, 0.72},
                    .sky = {0.045, 0.060, 0.105, 1},
                    .disc = {1.00, 0.985, 0.95, 1},
                },
            [THEME_RED] =
                {
                    .ink =
                        {
                            [INK_PLAIN] = {0.90, 0, 0, 1},
                            [INK_OBJECT] = {1.00, 0, 0, 1},
                            [INK_STAR] = {0.85, 0, 0, 1},
                            [INK_FIGURE] = {0.92, 0, 0, 0.60},
                            [INK_BORDER] = {0.92, 0, 0, 0.46},
                            [INK_GRID] = {0.92, 0, 0, 0.40},
                            [INK_ECLIPTIC] = {0.90, 0, 0, 0.75},
                            [INK_FRAME] = {1.00, 0, 0, 1},
                        },
                    .rim = {0, 0, 0, 0.60},
                    .text_rim = {0, 0, 0, 0.85},
                    .sky = {0.03, 0, 0, 1},
                    .disc = {0.95, 0, 0, 1},
                    .red = true,
                },
            [THEME_PAPER] =
                {
                    .ink =
                        {
                            [INK_PLAIN] = {0.10, 0.10, 0.12, 1},
                            [INK_OBJECT] = {0.62, 0.27, 0.02, 1},
                            [INK_STAR] = {0.06, 0.10, 0.22, 1},
                            [INK_FIGURE] = {0.20, 0.44, 0.66, 0.75},
                            [INK_BORDER] = {0.52, 0.30, 0.60, 0.70},
                            [INK_GRID] = {0.40, 0.46, 0.50, 0.50},
                            [INK_ECLIPTIC] = {0.55, 0.47, 0.00, 0.90},
                            [INK_FRAME] = {0.00, 0.45, 0.32, 1},
                        },
                    .rim = {1, 1, 1, 0.70},
                    .text_rim = {1, 1, 1, 0.90},
                    .sky = {1, 1, 1, 1},
                    .disc = {0.05, 0.05, 0.08, 1},
                },
};

const struct theme *theme_of(enum theme_kind kind)
{
    return &themes[(unsigned)kind < THEMES ? kind : THEME_NIGHT];
}
