/** The one part of jstat that is used; the package has no types of its own. */
declare module 'jstat' {
  const jStat: { studentt: { inv(probability: number, degreesOfFreedom: number): number } };
  export default jStat;
}
