using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Units;

/// <summary>The derived limits of one characteristic at one attempt.</summary>
/// <param name="Step">The step's code.</param>
/// <param name="Attempt">The attempt, from 1.</param>
/// <param name="Record">Id of the fact that completed it.</param>
/// <param name="Characteristic">The characteristic's code.</param>
/// <param name="Unit">UCUM code of the limits.</param>
/// <param name="Lower">The lower limit; null: none.</param>
/// <param name="Upper">The upper limit; null: none.</param>
public sealed record DerivedLimitsView(
    string Step, int Attempt, Guid Record, string Characteristic, string Unit, WorkedLimitView? Lower, WorkedLimitView? Upper);

/// <summary>One limit as worked out for a unit.</summary>
/// <param name="Value">Its value in the characteristic's unit; null while a value that it depends on is not recorded.</param>
/// <param name="StandardUncertainty">Combined standard uncertainty in that unit (JCGM 100, 5.1.2, uncorrelated inputs); null while the limit is not known.</param>
/// <param name="IsUncertaintyComplete">Whether every input states its uncertainty; one that does not counts as exact.</param>
/// <param name="Inputs">The recorded values that it is derived from; none for a fixed limit.</param>
public sealed record WorkedLimitView(decimal? Value, double? StandardUncertainty, bool IsUncertaintyComplete, IReadOnlyList<LimitInputView> Inputs);

/// <summary>A recorded value that a limit is derived from.</summary>
/// <param name="Unit">The unit that it was measured on: this one or a component.</param>
/// <param name="Step">Code of the step that measured it.</param>
/// <param name="Characteristic">The characteristic's code.</param>
/// <param name="Record">Id of the record that holds it.</param>
/// <param name="Value">The value as entered.</param>
/// <param name="StandardUncertainty">Its standard uncertainty as stated, in the same unit of measure; null where none is.</param>
/// <param name="Factor">The factor of the limit's term.</param>
/// <param name="Contribution">Factor times value, in the limit's unit.</param>
public sealed record LimitInputView(
    UnitRef Unit, string Step, string Characteristic, Guid Record, QuantityValue Value, decimal? StandardUncertainty, decimal Factor, decimal Contribution);
