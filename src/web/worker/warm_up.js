// A browser makes code fast once it has run for a while. So the engine solves and draws a small frame
// of its own (rendered: Orion's belt and sword) while nobody has asked for anything; it waits for a
// picture that is given meanwhile no longer than for one of these two.
'use strict';

const WARM_UP_AFTER = 200; // ms without a task
const WARM_UP_TASKS = [
    ['alidade', 'solve', '--json', '/in/warm_up.jpg'],
    ['alidade', 'annotate', '--alone', '--output', '/out.svg', '/in/warm_up.jpg'],
];

// Tasks that are asked for put it off for good.
function warmUp(picture, asked) {
    WARM_UP_TASKS.forEach((words, i) => setTimeout(() => {
        if (!asked()) {
            runWithFiles({ words, files: [['/in/warm_up.jpg', picture.slice()]], keep: ['/out.svg'] });
        }
    }, WARM_UP_AFTER * (i + 1)));
}
