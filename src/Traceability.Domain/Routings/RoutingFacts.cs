using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>A revision was written or rewritten; it applies to nothing until it is released. Who wrote it: <see cref="Fact.Person"/>.</summary>
public sealed record RoutingDrafted(RoutingRevision Revision) : Fact;

/// <summary>A revision was released: it can't be changed any more.</summary>
public sealed record RoutingReleased(ItemNumber Item, RevisionCode Revision, PersonCode? ReleasedBy) : Fact;

/// <summary>A second person approved a draft as it stood then. A later rewriting ends the approval.</summary>
/// <param name="Item">The item.</param>
/// <param name="Revision">The revision.</param>
/// <param name="ApprovedBy">Who approved: nobody who wrote any version of the draft.</param>
public sealed record RoutingApproved(ItemNumber Item, RevisionCode Revision, PersonCode ApprovedBy) : Fact;
