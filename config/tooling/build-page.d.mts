/** Builds the page into `outDir`, which is emptied first. */
export function buildPage(outDir: string): Promise<void>
