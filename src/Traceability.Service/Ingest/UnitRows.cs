using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Ingest;

/// <summary>A derived row and its identity within the unit.</summary>
internal readonly record struct Row<T>(long Id, T Value);

/// <summary>One accepted item of a gap.</summary>
internal sealed record GapRow(TraceGap Gap, ItemNumber Item);

/// <summary>How a unit ended, as unit yields count it.</summary>
internal sealed record UnitResultRow(DateOnly Day, bool IsScrapped, bool Passed);

/// <summary>The tables that hold rows of a unit.</summary>
internal enum UnitTable
{
    StepResult,
    UnitResult,
    Finding,
    OpenInterval,
    MaterialUsage,
    TraceGap,
    Installation,
    CureWindow,
    ToolUsage,
    Nonconformance,
    Measurement,
    IntervalResult,
    WorkGap,
    Shipment,
}

/// <summary>A unit's judgement as the rows that the tables hold of it.</summary>
/// <remarks>The step, variant and revision of a row are part of its hash, so a change of any of them replaces the row.</remarks>
internal sealed partial class UnitRows
{
    /// <summary>How many tables there are.</summary>
    public static readonly int TableCount = Enum.GetValues<UnitTable>().Length;

    private UnitRows(UnitJudgement judgement) => Judgement = judgement;

    public UnitJudgement Judgement { get; }

    public required ImmutableArray<Row<StepResult>> StepResults { get; init; }

    public required ImmutableArray<Row<UnitResultRow>> UnitResults { get; init; }

    public required ImmutableArray<Row<Finding>> Findings { get; init; }

    public required ImmutableArray<Row<OpenInterval>> OpenIntervals { get; init; }

    public required ImmutableArray<Row<MaterialUsage>> Usages { get; init; }

    public required ImmutableArray<Row<GapRow>> Gaps { get; init; }

    public required ImmutableArray<Row<Installation>> Installations { get; init; }

    public required ImmutableArray<Row<CureWindow>> CureWindows { get; init; }
    public required ImmutableArray<Row<ToolUsage>> ToolUsages { get; init; }
    public required ImmutableArray<Row<Nonconformance>> Nonconformances { get; init; }
    public required ImmutableArray<Row<Departure>> Shipments { get; init; }

    public required ImmutableArray<Row<MeasuredValue>> Measurements { get; init; }

    public required ImmutableArray<Row<IntervalResult>> IntervalResults { get; init; }

    public required ImmutableArray<Row<WorkGap>> WorkGaps { get; init; }

    /// <summary>The rows of a judgement.</summary>
    public static UnitRows Of(UnitJudgement judgement)
    {
        var status = judgement.Status;
        return new(judgement)
        {
            StepResults = Rows(judgement.Steps, s => HashOf(s, status)),
            UnitResults = status is { EndedDay: { } day, EndedAt: not null }
                ? Rows([new UnitResultRow(day, status.Place == Place.Scrapped, status.PassedFirstTime)], r => HashOf(r, status))
                : [],
            Findings = Rows(judgement.Findings, HashOf),
            OpenIntervals = Rows(judgement.OpenIntervals, HashOf),
            Usages = Rows(judgement.Usages, HashOf),
            Gaps = Rows([.. judgement.Gaps.SelectMany(g => g.Items.Select(i => new GapRow(g, i)))], HashOf),
            Installations = Rows(judgement.Installations, HashOf),
            CureWindows = Rows(judgement.CureWindows, HashOf),
            ToolUsages = Rows(judgement.ToolUsages, HashOf),
            Nonconformances = Rows(judgement.Nonconformances, HashOf),
            Measurements = Rows(judgement.Measurements, EvidenceColumns.HashOf),
            IntervalResults = Rows(judgement.IntervalResults, EvidenceColumns.HashOf),
            WorkGaps = Rows(judgement.WorkGaps, EvidenceColumns.HashOf),
            Shipments = Rows(judgement.Departures, HashOf),
        };
    }

    /// <summary>The identities of the rows, by <see cref="UnitTable"/>.</summary>
    public ImmutableArray<long[]> Ids() =>
    [
        IdsOf(StepResults), IdsOf(UnitResults), IdsOf(Findings), IdsOf(OpenIntervals), IdsOf(Usages), IdsOf(Gaps), IdsOf(Installations), IdsOf(CureWindows), IdsOf(ToolUsages), IdsOf(Nonconformances),
        IdsOf(Measurements), IdsOf(IntervalResults), IdsOf(WorkGaps), IdsOf(Shipments),
    ];

    /// <summary>The identities of the rows of one table.</summary>
    public long[] Ids(UnitTable table) => table switch
    {
        UnitTable.StepResult => IdsOf(StepResults),
        UnitTable.UnitResult => IdsOf(UnitResults),
        UnitTable.Finding => IdsOf(Findings),
        UnitTable.OpenInterval => IdsOf(OpenIntervals),
        UnitTable.MaterialUsage => IdsOf(Usages),
        UnitTable.TraceGap => IdsOf(Gaps),
        UnitTable.Installation => IdsOf(Installations),
        UnitTable.CureWindow => IdsOf(CureWindows),
        UnitTable.ToolUsage => IdsOf(ToolUsages),
        UnitTable.Nonconformance => IdsOf(Nonconformances),
        UnitTable.Measurement => IdsOf(Measurements),
        UnitTable.IntervalResult => IdsOf(IntervalResults),
        UnitTable.WorkGap => IdsOf(WorkGaps),
        UnitTable.Shipment => IdsOf(Shipments),
        _ => throw new ArgumentOutOfRangeException(nameof(table)),
    };

    /// <summary>Whether a table has a row of this identity.</summary>
    public bool Has(UnitTable table, long id) => table switch
    {
        UnitTable.StepResult => Has(StepResults, id),
        UnitTable.UnitResult => Has(UnitResults, id),
        UnitTable.Finding => Has(Findings, id),
        UnitTable.OpenInterval => Has(OpenIntervals, id),
        UnitTable.MaterialUsage => Has(Usages, id),
        UnitTable.TraceGap => Has(Gaps, id),
        UnitTable.Installation => Has(Installations, id),
        UnitTable.CureWindow => Has(CureWindows, id),
        UnitTable.ToolUsage => Has(ToolUsages, id),
        UnitTable.Nonconformance => Has(Nonconformances, id),
        UnitTable.Measurement => Has(Measurements, id),
        UnitTable.IntervalResult => Has(IntervalResults, id),
        UnitTable.WorkGap => Has(WorkGaps, id),
        UnitTable.Shipment => Has(Shipments, id),
        _ => throw new ArgumentOutOfRangeException(nameof(table)),
    };

    private static long[] IdsOf<T>(ImmutableArray<Row<T>> rows)
    {
        if (rows.IsEmpty)
        {
            return [];
        }

        var ids = new long[rows.Length];
        for (var i = 0; i < ids.Length; i++)
        {
            ids[i] = rows[i].Id;
        }

        return ids;
    }

    private static bool Has<T>(ImmutableArray<Row<T>> rows, long id)
    {
        foreach (var row in rows)
        {
            if (row.Id == id)
            {
                return true;
            }
        }

        return false;
    }

    // Two rows that say the same are one row: the table's key would refuse the second. Few rows, so a search in line is the
    // fastest; many, and it would grow with their square.
    private static ImmutableArray<Row<T>> Rows<T>(ImmutableArray<T> values, Func<T, long> hash)
    {
        if (values.IsEmpty)
        {
            return [];
        }

        var rows = ImmutableArray.CreateBuilder<Row<T>>(values.Length);
        var ids = new long[values.Length];
        var seen = values.Length > 200 ? new HashSet<long>(values.Length) : null;
        foreach (var value in values)
        {
            var id = hash(value);
            if (seen?.Add(id) ?? !ids.AsSpan(0, rows.Count).Contains(id))
            {
                ids[rows.Count] = id;
                rows.Add(new(id, value));
            }
        }

        return rows.DrainToImmutable();
    }
}
