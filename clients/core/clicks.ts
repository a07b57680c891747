// The two clicks: pitch and length. Short and dry, so that they cannot be taken for steel.
export const CLICKS = { accent: { hertz: 1_568, seconds: 0.04 }, beat: { hertz: 1_047, seconds: 0.03 } } as const;
