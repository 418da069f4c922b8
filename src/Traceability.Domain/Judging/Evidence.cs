using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;

namespace Traceability.Domain.Judging;

/// <summary>A value that was measured, or a check that was made, at an attempt that counts.</summary>
/// <param name="Step">The step.</param>
/// <param name="Attempt">The attempt.</param>
/// <param name="Record">The fact.</param>
/// <param name="Characteristic">What was measured or checked.</param>
/// <param name="Value">The value as entered; null for a check.</param>
/// <param name="StandardUncertainty">The standard uncertainty of the value, in its unit; null where none is stated.</param>
/// <param name="Passed">
/// For a check its result as recorded. For a value whether it is within its limits, as judged; null where that was not judged
/// (nothing asks for it, its unit does not fit, a limit can't be derived) or not shown (it lies in the guard band).
/// </param>
/// <param name="From">The earliest time of it (start of the step, less the clock's uncertainty).</param>
/// <param name="To">The latest.</param>
/// <param name="Station">The station.</param>
public sealed record MeasuredValue(
    StepCode Step,
    int Attempt,
    Guid Record,
    Code Characteristic,
    EnteredQuantity? Value,
    decimal? StandardUncertainty,
    bool? Passed,
    DateTimeOffset From,
    DateTimeOffset To,
    StationCode? Station)
{
    /// <summary>
    /// The value in the coherent unit of its dimension, see <see cref="Quantity.ToCoherent"/>; null for a check and where the unit
    /// is not known. Rounded to the nearest double: two values that differ in the 17th digit only may have the same.
    /// </summary>
    public double? Magnitude => Quantity?.ToCoherent();

    /// <summary>The dimension, as <see cref="Quantities.Dimension.ToString"/> writes it ("L2.M.T-2"); null where <see cref="Magnitude"/> is.</summary>
    public string? Dimension => Quantity?.Unit.Dimension.ToString();

    /// <summary>The expanded uncertainty (coverage factor 2; JCGM 100:2008, 6.2.1) in the unit of <see cref="Magnitude"/>; null where none is stated.</summary>
    public double? Uncertainty =>
        StandardUncertainty is { } standard && Quantity is { } quantity ? 2 * Math.Abs(quantity.Unit.ToCoherentDifference(standard)) : null;

    // Worked out only where a row is written: a judgement is made anew for every fact.
    private Quantity? Quantity => Value is { } value && UcumUnit.TryParse(value.Unit, out var unit) ? new Quantity(value.Value, unit) : null;
}

/// <summary>An interval that has ended: how long it was, by its rule.</summary>
/// <param name="Rule">The interval rule.</param>
/// <param name="FromStep">The step that starts it.</param>
/// <param name="ToStep">The step that ends it.</param>
/// <param name="FromRecord">The fact that started it; null where its start is not recorded.</param>
/// <param name="ToRecord">The fact that ended it: the completion of the step, or its start while it is not completed.</param>
/// <param name="Least">The least that it can have lasted, whichever way the clocks were off; null where its start or its end is not recorded.</param>
/// <param name="Most">The most; null where its start is not recorded.</param>
/// <param name="Verdict">Whether it kept its rule; undetermined where its start is not recorded, and where it wasn't judged.</param>
/// <param name="At">When it ended; where that is not recorded, when the step was completed.</param>
/// <param name="Station">The station of the record that ended it.</param>
public sealed record IntervalResult(
    Code Rule,
    StepCode FromStep,
    StepCode ToStep,
    Guid? FromRecord,
    Guid ToRecord,
    TimeSpan? Least,
    TimeSpan? Most,
    IntervalVerdict Verdict,
    DateTimeOffset At,
    StationCode? Station);

/// <summary>What work is not recorded.</summary>
public enum WorkGapKind
{
    /// <summary>A whole step: who did it, where and when. Not recorded: it was started, and no completion by the same person at the same station follows.</summary>
    Step,

    /// <summary>Which tool was used where one of a class is required.</summary>
    Tool,

    /// <summary>What a required characteristic was.</summary>
    Characteristic,

    /// <summary>How long an interval was: its start or its end.</summary>
    Interval,
}

/// <summary>Work that should be recorded and that no record tells of: what could have been is possible.</summary>
/// <param name="Kind">What is missing.</param>
/// <param name="Reason">Why.</param>
/// <param name="Step">The step; for an interval the one that ends it.</param>
/// <param name="Requirement">The tool requirement, the characteristic or the interval rule; null for a step.</param>
/// <param name="ToolClass">For a tool: the class required.</param>
/// <param name="Record">The fact that should tell; empty if there is none.</param>
/// <param name="From">The earliest time that it can have been done.</param>
/// <param name="To">The latest; null: until now.</param>
/// <param name="Station">The station; null: any, since a record that is void or missing doesn't tell where the work was done.</param>
/// <param name="Person">The person; null: anyone.</param>
/// <param name="Stations">Where the routing says that the step is done; empty: anywhere.</param>
public sealed record WorkGap(
    WorkGapKind Kind,
    GapReason Reason,
    StepCode Step,
    Code? Requirement,
    Code? ToolClass,
    Guid Record,
    DateTimeOffset From,
    DateTimeOffset? To,
    StationCode? Station,
    PersonCode? Person,
    ImmutableArray<StationCode> Stations)
{
    /// <summary>For a step that is not recorded at all: the revision that asks for it; null: any.</summary>
    public RevisionCode? Revision { get; init; }
}
