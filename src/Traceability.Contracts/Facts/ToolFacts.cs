namespace Traceability.Contracts.Facts;

/// <summary>A tool was described, first or anew.</summary>
public sealed record ToolDefined : FactMessage
{
    /// <summary>The tool's number.</summary>
    public required string Tool { get; init; }

    /// <summary>Its class: what a step asks for.</summary>
    public required string ToolClass { get; init; }

    /// <summary>What it is, in words; 1 to 2,000 characters.</summary>
    public required string Description { get; init; }

    /// <summary>Whether it may be used only while calibrated.</summary>
    public required bool NeedsCalibration { get; init; }

    /// <summary>How long a calibration holds that doesn't say until when; null: until the next one. Written as an ISO 8601 duration, longer than nothing.</summary>
    public TimeSpan? CalibrationInterval { get; init; }
}

/// <summary>A tool was calibrated.</summary>
public sealed record ToolCalibrated : FactMessage
{
    /// <summary>The tool's number.</summary>
    public required string Tool { get; init; }

    /// <summary>Whether it was within its limits as found, before any adjustment.</summary>
    public required bool FoundGood { get; init; }

    /// <summary>Whether it was within its limits as left.</summary>
    public required bool LeftGood { get; init; }

    /// <summary>The end of validity, if it was left good.</summary>
    public DateTimeOffset? ValidUntil { get; init; }

    /// <summary>The certificate's number.</summary>
    public string? Certificate { get; init; }

    /// <summary>What was measured, as found and as left; none where only the result is known.</summary>
    public IReadOnlyList<CalibrationPoint>? Points { get; init; }
}

/// <summary>The torque that a tool gives at a setting was measured.</summary>
public sealed record ToolSettingVerified : FactMessage
{
    /// <summary>The tool's number.</summary>
    public required string Tool { get; init; }

    /// <summary>The clutch or program setting.</summary>
    public required string Setting { get; init; }

    /// <summary>The torque measured, in a unit of torque such as N.m.</summary>
    public required QuantityValue Torque { get; init; }

    /// <summary>Until when it may be relied on; null: until it is measured again.</summary>
    public DateTimeOffset? ValidUntil { get; init; }

    /// <summary>The expanded uncertainty of that torque (coverage factor 2), in a unit of torque, not negative; null: none is allowed for.</summary>
    public QuantityValue? Uncertainty { get; init; }
}

/// <summary>One point of a calibration. Everything in it measures the same kind of thing.</summary>
public sealed record CalibrationPoint
{
    /// <summary>The clutch or program setting that it was taken at; null for a tool without settings.</summary>
    public string? Setting { get; init; }

    /// <summary>What the tool should have given or shown.</summary>
    public required QuantityValue Nominal { get; init; }

    /// <summary>What it gave before any adjustment; null: not measured.</summary>
    public QuantityValue? AsFound { get; init; }

    /// <summary>What it gave afterwards; null: not measured.</summary>
    public QuantityValue? AsLeft { get; init; }

    /// <summary>The expanded uncertainty (coverage factor 2), not negative; null: not stated.</summary>
    public QuantityValue? Uncertainty { get; init; }
}

/// <summary>A tool was tried against something known, between calibrations: the daily check.</summary>
/// <remarks>It passes if every reading is inside the limits by at least the uncertainty, and fails if one is outside the limits.</remarks>
public sealed record ToolChecked : FactMessage
{
    /// <summary>The tool's number.</summary>
    public required string Tool { get; init; }

    /// <summary>The setting that was tried; null: the tool as a whole.</summary>
    public string? Setting { get; init; }

    /// <summary>What it gave or showed, 1 to 500 readings of one kind.</summary>
    public required IReadOnlyList<QuantityValue> Readings { get; init; }

    /// <summary>The least that is allowed; null: none.</summary>
    public QuantityValue? Lower { get; init; }

    /// <summary>The most that is allowed; null: none. A check without limits neither passes nor fails.</summary>
    public QuantityValue? Upper { get; init; }

    /// <summary>The expanded uncertainty of a reading (coverage factor 2), not negative; null: none is allowed for.</summary>
    public QuantityValue? Uncertainty { get; init; }
}

/// <summary>How a torque tool scatters at a setting was studied on one test joint: one series of readings.</summary>
public sealed record ToolStudied : FactMessage
{
    /// <summary>The tool's number.</summary>
    public required string Tool { get; init; }

    /// <summary>The clutch or program setting: one level of torque.</summary>
    public required string Setting { get; init; }

    /// <summary>The test joint, such as HARD or SOFT.</summary>
    public required string Joint { get; init; }

    /// <summary>The torques in the order taken, 2 to 500.</summary>
    public required IReadOnlyList<QuantityValue> Readings { get; init; }
}

/// <summary>A person decided that the tool must not be used from here on.</summary>
public sealed record ToolWithdrawn : FactMessage
{
    /// <summary>The tool's number.</summary>
    public required string Tool { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }
}

/// <summary>A person decided that the tool may be used again. Refused while it is due, failed or was never calibrated, if it needs calibration.</summary>
public sealed record ToolReinstated : FactMessage
{
    /// <summary>The tool's number.</summary>
    public required string Tool { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }
}
