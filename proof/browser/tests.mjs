// The list that tests put themselves on.

/** @type {[string, () => Promise<void>][]} */
export const tests = [];

/** @param {string} name @param {() => Promise<void>} work */
export const test = (name, work) => void tests.push([name, work]);
