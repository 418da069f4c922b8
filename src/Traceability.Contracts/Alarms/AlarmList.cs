namespace Traceability.Contracts.Alarms;

/// <summary>What is wrong with the service now, as far as it knows.</summary>
/// <param name="AsOf">When it was looked.</param>
/// <param name="Alarms">What is wrong, the longest standing first; empty: nothing that the service looks at.</param>
public sealed record AlarmList(DateTimeOffset AsOf, IReadOnlyList<Alarm> Alarms);

/// <summary>One thing that is wrong and that somebody must look after.</summary>
/// <param name="Kind">A stable code, listed in docs/reference/alarms.md.</param>
/// <param name="Since">Since when it is so; where that is not recorded, since when this process has seen it.</param>
/// <param name="Count">How many things it is about.</param>
/// <param name="Detail">What was found.</param>
/// <param name="Action">What to do.</param>
public sealed record Alarm(string Kind, DateTimeOffset Since, long Count, string Detail, string Action);
