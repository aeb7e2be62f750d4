import jStat from 'jstat';

/**
 * Quantile of Student's t: the value that a t variable stays below with this probability.
 * Right to seven digits against closed forms; above some ten million degrees of freedom the package goes astray.
 * @param probability between 0 and 1
 * @param degreesOfFreedom above 0
 */
export const studentQuantile = (probability: number, degreesOfFreedom: number): number =>
  jStat.studentt.inv(probability, degreesOfFreedom);
