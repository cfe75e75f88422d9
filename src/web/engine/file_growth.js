// Files in memory grow by an eighth, copied each time; the index, of 14 MB, would be copied twenty times.
Module['preRun'] = [() => {
    const grow = MEMFS.expandFileStorage;
    MEMFS.expandFileStorage = (node, size) => {
        const room = node.contents ? node.contents.length : 0;
        grow(node, size > room ? Math.max(size, room > 100000 ? 15e6 : 0, 2 * room) : size);
    };
}];
