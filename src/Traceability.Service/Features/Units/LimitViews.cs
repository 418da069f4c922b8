using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;
using Traceability.Domain.Judging;

namespace Traceability.Service.Features.Units;

/// <summary>Turns limits and what they were derived from into what is answered.</summary>
internal static class LimitViews
{
    /// <summary>The limits of one attempt.</summary>
    public static DerivedLimitsView Of(AttemptLimits limits) => new(
        limits.Step.Value, limits.Attempt, limits.Record, limits.Characteristic.Value, limits.Unit, Of(limits.Lower), Of(limits.Upper));

    /// <summary>One limit.</summary>
    public static WorkedLimitView? Of(WorkedLimit? limit) => limit is null
        ? null
        : new(limit.Value, limit.StandardUncertainty, limit.IsUncertaintyComplete, [.. limit.Inputs.Select(Of)]);

    private static LimitInputView Of(LimitInput input) => new(
        new() { Item = input.Unit.Item.Value, Serial = input.Unit.Serial.Value },
        input.Term.Step.Value,
        input.Term.Characteristic.Value,
        input.Record,
        new QuantityValue { Value = input.Measurement.Value, Unit = input.Measurement.Unit },
        input.Measurement.StandardUncertainty,
        input.Term.Factor,
        input.Contribution);
}
