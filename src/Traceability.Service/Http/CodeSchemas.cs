using System.Reflection;
using Microsoft.OpenApi;
using Swashbuckle.AspNetCore.SwaggerGen;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>A code is a text in JSON, with the form that its own parser asks for.</summary>
internal sealed class CodeSchemas : ISchemaFilter
{
    /// <inheritdoc />
    public void Apply(IOpenApiSchema schema, SchemaFilterContext context)
    {
        var type = Nullable.GetUnderlyingType(context.Type) ?? context.Type;
        var isCode = type.GetInterfaces().Any(i => i.IsGenericType && i.GetGenericTypeDefinition() == typeof(ICode<>));
        if (!isCode || schema is not OpenApiSchema code)
        {
            return;
        }

        code.Type = JsonSchemaType.String;
        code.Properties = null;
        code.Required = null;
        code.AdditionalPropertiesAllowed = true;
        code.MinLength = 1;
        code.MaxLength = (int)type.GetProperty(nameof(ICode<Code>.LengthMax), BindingFlags.Public | BindingFlags.Static)!.GetValue(null)!;
        code.Pattern = "^[A-Za-z0-9._+-]+$";
    }
}
