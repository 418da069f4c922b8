using NpgsqlTypes;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <content>Rows of tools, work, values, intervals and missing work.</content>
internal sealed partial class SqlScopeSource
{
    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<ToolUseRow>> ToolUsesAsync(
        ToolNumber tool, DateTimeOffset? from, DateTimeOffset? to, CancellationToken cancellation) => await ReadAsync(
        WorkSql.ToolUses,
        [Texts([tool.Value]), NullableInstant(from), NullableInstant(to)],
        static r => new ToolUseRow(r.GetString(0), r.GetInt64(1), NullableText(r, 2), r.GetString(3), Time(r, 4), Time(r, 5), NullableText(r, 6)),
        cancellation);

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<WorkRow>> WorkAsync(SuspectWork work, CancellationToken cancellation)
    {
        // What isn't recorded could be the one that is asked for, and is looked up beside it.
        var (key, keys) = work switch
        {
            { Person: { } person } => (WorkKey.Person, new[] { person.Value, string.Empty }),
            { Filter.Station: { } station } => (WorkKey.Station, [station.Value, string.Empty]),
            { Item: { } item, Revision: not null } => (WorkKey.Revision, [item.Value]),

            // Where a time is asked for, it narrows more than the item does.
            { Item: { } item, Filter.From: null } => (WorkKey.Item, [item.Value]),
            _ => (WorkKey.None, []),
        };
        return await ReadAsync(
            WorkSql.Work(key),
            [
                Texts(keys),
                Text(work.Item?.Value),
                Text(work.Variant?.Value),
                Text(work.Revision?.Value),
                Text(work.Filter.Step?.Value),
                Text(work.Filter.Station?.Value),
                Text(work.Person?.Value),
                NullableInstant(work.Filter.From),
                NullableInstant(work.Filter.To),
            ],
            static r => new WorkRow(
                r.GetString(0), r.GetInt64(1), NullableText(r, 2), NullableText(r, 3), r.GetString(4), Time(r, 5), Time(r, 6), NullableText(r, 7), NullableText(r, 8)),
            cancellation);
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<MeasuredRow>> MeasuredAsync(SuspectMeasured measured, CancellationToken cancellation)
    {
        var characteristic = Texts([measured.Characteristic.Value]);
        var item = Text(measured.Item?.Value);
        if (measured.Bound is not { } entered)
        {
            return await ReadAsync(WorkSql.NotPassed, [characteristic, item], Measured, cancellation);
        }

        var bound = new Quantity(entered.Value, UcumUnit.Parse(entered.Unit));
        return await ReadAsync(
            WorkSql.Beyond(measured.Condition == MeasuredCondition.Below),
            [
                characteristic,
                item,
                Text(bound.Unit.Dimension.ToString()),
                new() { Value = bound.ToCoherent(), NpgsqlDbType = NpgsqlDbType.Double },
            ],
            Measured,
            cancellation);
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<IntervalRow>> IntervalsAsync(SuspectInterval interval, CancellationToken cancellation) => await ReadAsync(
        interval.ShorterThan is null ? WorkSql.Longer : WorkSql.Shorter,
        [
            Texts([interval.Rule.Value]),
            Text(interval.Item?.Value),
            new() { Value = interval.ShorterThan ?? interval.LongerThan!.Value, NpgsqlDbType = NpgsqlDbType.Interval },
        ],
        static r => new IntervalRow(
            r.GetString(0),
            r.GetInt64(1),
            r.GetString(2),
            r.IsDBNull(3) ? null : r.GetFieldValue<TimeSpan>(3),
            r.IsDBNull(4) ? null : r.GetFieldValue<TimeSpan>(4),
            Time(r, 5),
            NullableText(r, 6)),
        cancellation);

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<WorkGapRow>> WorkGapsAsync(
        WorkGapKind kind, ItemNumber? item, IReadOnlyCollection<string>? names, CancellationToken cancellation)
    {
        var name = ScopeNames.Of(kind);
        var key = names is null ? WorkGapKey.Kind : kind == WorkGapKind.Tool ? WorkGapKey.ToolClass : WorkGapKey.Requirement;
        return await ReadAsync(
            WorkSql.Gaps(key),
            [Texts(names ?? [name]), Text(item?.Value), Text(name)],
            static r => new WorkGapRow(
                r.GetString(0),
                r.GetInt64(1),
                NullableText(r, 2),
                NullableText(r, 3),
                r.GetString(4),
                Time(r, 5),
                NullableTime(r, 6),
                NullableText(r, 7),
                NullableText(r, 8),
                NullableText(r, 9)),
            cancellation);
    }

    private static MeasuredRow Measured(Npgsql.NpgsqlDataReader r) => new(
        r.GetString(0),
        r.GetInt64(1),
        r.GetString(2),
        NullableText(r, 3),
        r.IsDBNull(4) ? null : r.GetDouble(4),
        NullableText(r, 5),
        r.IsDBNull(6) ? null : r.GetDouble(6),
        r.IsDBNull(7) ? null : r.GetBoolean(7),
        Time(r, 8),
        Time(r, 9),
        NullableText(r, 10));

    private static Npgsql.NpgsqlParameter NullableInstant(DateTimeOffset? value) =>
        new() { Value = (object?)value?.UtcDateTime ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.TimestampTz };
}
