using System.Runtime.InteropServices;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Intervals;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;

namespace Traceability.Service.Features.Intervals;

/// <summary>An open interval as judged at the moment of asking.</summary>
[StructLayout(LayoutKind.Auto)]
internal readonly record struct JudgedInterval(RunningInterval Interval, OpenIntervalState State)
{
    /// <summary>By what needs attention first: the state, then the next limit, then the unit.</summary>
    public static int ByUrgency(JudgedInterval a, JudgedInterval b)
    {
        var order = a.State.CompareTo(b.State);
        order = order != 0 ? order : a.NextLimit.CompareTo(b.NextLimit);
        order = order != 0 ? order : a.Interval.StartedAt.CompareTo(b.Interval.StartedAt);
        order = order != 0 ? order : string.CompareOrdinal(a.Interval.Unit.Serial, b.Interval.Unit.Serial);
        order = order != 0 ? order : string.CompareOrdinal(a.Interval.Unit.Item, b.Interval.Unit.Item);
        return order != 0 ? order : string.CompareOrdinal(a.Interval.Rule, b.Interval.Rule);
    }

    private DateTimeOffset NextLimit =>
        (State is OpenIntervalState.NotReady or OpenIntervalState.UndeterminedAtMinimum ? Interval.ReadyAt : Interval.OverdueAt) ?? DateTimeOffset.MaxValue;
}

/// <summary>Reads open intervals and judges each at one moment.</summary>
internal static class OpenIntervalReader
{
    // Where the step that started it was completed last: a unit's rows are few, and found by its key.
    private const string Select =
        """
        select o.unit, o.rule, o.name, o.from_step, o.to_step, s.station, o.started_at, o.uncertainty, o.ready_at, o.overdue_at, o.stops, o.is_defect, o.assumption, o.assumed_until, o.may_be_overdue_at, o.surely_overdue_at
        from traceability.open_interval o
        left join lateral (
          select r.station from traceability.step_result r where r.unit = o.unit and r.step = o.from_step order by r.attempt desc limit 1) s on true
        where ($1::text is null or o.item = $1) and ($2::text is null or s.station = $2)
        """;

    /// <summary>The open intervals, by what needs attention first.</summary>
    /// <param name="connection">Gives the snapshot.</param>
    /// <param name="item">Only units of this item; null: of all.</param>
    /// <param name="station">Only what was started at this station; null: at any.</param>
    /// <param name="onlyPastMaximum">Only overdue ones and those too near to the maximum to tell.</param>
    /// <param name="now">The moment to judge at.</param>
    /// <param name="cancellation">Gives up.</param>
    public static async Task<List<JudgedInterval>> ReadAsync(
        NpgsqlConnection connection, ItemNumber? item, StationCode? station, bool onlyPastMaximum, DateTimeOffset now, CancellationToken cancellation)
    {
        // The index on overdue_at narrows; the domain decides.
        await using var command = new NpgsqlCommand(onlyPastMaximum ? $"{Select} and (o.overdue_at - o.uncertainty < $3 or o.may_be_overdue_at < $3)" : Select, connection)
        {
            Parameters = { OrNull(item?.Value), OrNull(station?.Value) },
        };
        if (onlyPastMaximum)
        {
            command.Parameters.Add(new() { Value = now.UtcDateTime, NpgsqlDbType = NpgsqlDbType.TimestampTz });
        }

        List<JudgedInterval> found = [];
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            var judged = Read(reader, now);
            if (!onlyPastMaximum || judged.State is OpenIntervalState.Overdue or OpenIntervalState.UndeterminedAtMaximum)
            {
                found.Add(judged);
            }
        }

        found.Sort(JudgedInterval.ByUrgency);
        return found;
    }

    private static JudgedInterval Read(NpgsqlDataReader reader, DateTimeOffset now)
    {
        var uncertainty = reader.GetTimeSpan(7);
        var readyAt = reader.IsDBNull(8) ? (DateTimeOffset?)null : reader.GetFieldValue<DateTimeOffset>(8);
        var overdueAt = reader.IsDBNull(9) ? (DateTimeOffset?)null : reader.GetFieldValue<DateTimeOffset>(9);
        var assumption = reader.IsDBNull(12) ? null : reader.GetString(12);
        var assumedUntil = reader.IsDBNull(13) ? (DateTimeOffset?)null : reader.GetFieldValue<DateTimeOffset>(13);
        var state = reader.IsDBNull(14)
            ? OpenIntervalStates.At(readyAt, overdueAt, uncertainty, now, assumption is not null, assumedUntil)
            : OpenIntervalStates.At(readyAt, uncertainty, reader.GetFieldValue<DateTimeOffset>(14), reader.IsDBNull(15) ? null : reader.GetFieldValue<DateTimeOffset>(15), now);
        return new(
            new(
                UnitKey.Parse(reader.GetString(0)).ToUnitRef(),
                reader.GetString(1),
                reader.GetString(2),
                reader.GetString(3),
                reader.GetString(4),
                reader.IsDBNull(5) || reader.GetString(5).Length == 0 ? null : reader.GetString(5),
                reader.GetFieldValue<DateTimeOffset>(6),
                uncertainty.TotalSeconds,
                readyAt,
                overdueAt,
                Shown(state),
                reader.GetBoolean(10) ? Enforcement.Stop : Enforcement.Flag,
                reader.GetBoolean(11))
            {
                Assumption = assumption,
                AssumedUntil = assumedUntil,
            },
            state);
    }

    private static IntervalState Shown(OpenIntervalState state) => state switch
    {
        OpenIntervalState.Overdue => IntervalState.Overdue,
        OpenIntervalState.UndeterminedAtMaximum or OpenIntervalState.UndeterminedAtMinimum => IntervalState.Undetermined,
        OpenIntervalState.Ready => IntervalState.Ready,
        OpenIntervalState.NotReady => IntervalState.NotReady,
        _ => throw new ArgumentOutOfRangeException(nameof(state)),
    };

    private static NpgsqlParameter OrNull(string? text) => new() { Value = (object?)text ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };
}
