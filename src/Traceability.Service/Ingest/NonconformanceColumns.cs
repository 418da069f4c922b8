using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>Values of the table of nonconformances that are made up of others.</summary>
internal static class NonconformanceColumns
{
    /// <summary>The defect code that a person reported; null where a rule found something else.</summary>
    public static string? Defect(Nonconformance n) => n.Kind is NonconformanceRules.Reported or FindingKinds.DefectReported ? n.Rule : null;

    /// <summary>The disposition's name.</summary>
    public static string? Disposition(Nonconformance n) => n.Disposition is { } disposition ? EnumNames<Disposition>.Of(disposition) : null;

    /// <summary>The steps that are still to be done again, in one text; no code has a space. Null for none.</summary>
    public static string? Awaited(Nonconformance n) => n.Awaited.IsEmpty ? null : string.Join(' ', n.Awaited);
}
