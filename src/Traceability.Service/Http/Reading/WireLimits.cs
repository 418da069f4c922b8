namespace Traceability.Service.Http.Reading;

/// <summary>Bounds on what one fact may hold. All are the service's own choice: far above honest use, far below harm.</summary>
internal static class WireLimits
{
    /// <summary>The most characters (UTF-16) of a free text.</summary>
    public const int TextLengthMax = 2_000;

    /// <summary>The most entries of an array.</summary>
    public const int ArrayLengthMax = 500;

    /// <summary>The most objects and arrays inside one another.</summary>
    public const int DepthMax = 24;

    /// <summary>The most faults that are told at once.</summary>
    public const int FaultsMax = 100;

    /// <summary>The highest count of a defect in one report.</summary>
    public const int DefectCountMax = 100_000;

    /// <summary>The most approvals that a revision of a routing may need.</summary>
    public const int ApprovalsMax = 9;

    /// <summary>The most nonconformances that a concession may cover.</summary>
    public const int ConcessionCountMax = 100_000;

    /// <summary>The most files that one fact may name.</summary>
    public const int AttachmentsMax = 20;

    /// <summary>The longest duration of a rule or a life: 50 years of 365.25 days.</summary>
    public static TimeSpan DurationMax { get; } = TimeSpan.FromDays(18_262.5);

    /// <summary>The earliest time that a record may name.</summary>
    public static DateTimeOffset TimeMin { get; } = new(1970, 1, 1, 0, 0, 0, TimeSpan.Zero);

    /// <summary>The time from which on none may be named. (Adding offsets and durations stays far from the calendar's end.)</summary>
    public static DateTimeOffset TimeMax { get; } = new(2200, 1, 1, 0, 0, 0, TimeSpan.Zero);
}
