using Traceability.Domain.Containments;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Ingest;

/// <summary>Decides facts about anything but a unit.</summary>
internal static class ReferenceDecisions
{
    /// <summary>The refusal, or null: record it. A case is decided by its own stream alone; all else also by what it names.</summary>
    public static Refusal? Check(ReferenceDraft draft, Fact fact, References references) =>
        CorrectionDecisions.Check(draft.Facts, fact)
        ?? (draft.Containment is { } containment ? ContainmentDecisions.Check(containment, fact) : DefinitionDecisions.Check(fact, references));

    /// <summary>The cases that grow, as they were and as they will be.</summary>
    public static (Containment Before, Containment After)[] ContainmentsOf(GroupPlan plan) =>
        [.. plan.References.Values
            .Where(r => r.Containment is not null && r.Facts.Length > r.StoredVersion)
            .Select(r => (r.Before!, r.Containment!))];
}
